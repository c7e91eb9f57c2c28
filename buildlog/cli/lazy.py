"""A command group whose commands are imported only when they are used or helped."""

from __future__ import annotations

from importlib import import_module
from typing import Any

import click

Table = dict[str, tuple[str, str]]  # name -> (module in buildlog.cli, what it does in a line)


class LazyGroup(click.Group):
    """Names and one-line helps come from a table; a module is imported for its `command`."""

    def __init__(self, *args: Any, table: Table, heading: str = "Commands", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.table = table
        self.heading = heading

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self.table)

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:
        if name not in self.table:
            return None
        command: click.Command = import_module(f"buildlog.cli.{self.table[name][0]}").command
        return command

    def get_help(self, ctx: click.Context) -> str:
        """On a narrow page what stands beside an example goes on below itself."""
        from buildlog.report.lines import PAGE, folded

        text = super().get_help(ctx)
        if PAGE.width >= 80:
            return text
        return "\n".join(part for line in text.split("\n") for part in folded(line))

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section(self.heading):
            formatter.write_dl([(name, line) for name, (_, line) in self.table.items()])

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        name = args[0] if args else ""
        if name and name not in self.table and not name.startswith("-"):
            import difflib

            near = difflib.get_close_matches(name, self.table, n=1, cutoff=0.5)
            meant = f'. Did you mean "{near[0]}"?' if near else ""
            raise click.UsageError(f'There is no command "{name}"{meant}', ctx)
        return super().resolve_command(ctx, args)
