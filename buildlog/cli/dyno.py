"""`buildlog dyno`: the commands about dyno sessions; each is imported when it is used."""

from __future__ import annotations

from importlib import import_module

import click

# name -> (module, what it does in a line)
COMMANDS: dict[str, tuple[str, str]] = {
    "add": ("dyno_add", "Add raw files to a session; say what was understood."),
    "sheet": ("dyno_sheet", "One session: pulls, peaks, mixture, sags, what they can show."),
    "compare": ("dyno_compare", "Two sessions, groups or pulls side by side."),
    "relate": ("dyno_relate", "How two machines read the same car."),
    "coast": ("dyno_coast", "The road load A, B, C from coast-down files."),
}


class Commands(click.Group):
    """A group that imports a command's module only when the command is used or helped."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:
        if name not in COMMANDS:
            return None
        module = import_module(f"buildlog.cli.{COMMANDS[name][0]}")
        command: click.Command = module.command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, line) in COMMANDS.items()])


@click.group(cls=Commands)
def command() -> None:
    """Dyno sessions: raw files in, one sheet out, sessions side by side."""
