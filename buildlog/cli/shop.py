"""`buildlog shop`: all cars of one business."""

from __future__ import annotations

from importlib import import_module

import click

SUBCOMMANDS: dict[str, tuple[str, str]] = {
    "list": ("shop_list", "Where each car stands, and what holds it up."),
}


class Shop(click.Group):
    """A group whose commands are imported when they are used."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(SUBCOMMANDS)

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:
        if name not in SUBCOMMANDS:
            return None
        command: click.Command = import_module(f"buildlog.cli.{SUBCOMMANDS[name][0]}").command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, line) in SUBCOMMANDS.items()])


@click.command(cls=Shop)
def command() -> None:
    """All ledgers of a shop: where each car stands, who has a part, what changes gave."""
