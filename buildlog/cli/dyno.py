"""`buildlog dyno`: the commands about dyno sessions; each is imported when it is used."""

from __future__ import annotations

import click

from buildlog.cli.lazy import LazyGroup, Table

COMMANDS: Table = {
    "add": ("dyno_add", "Add raw files to a session; say what was understood."),
    "log": ("dyno_log", "Lay files of other loggers over the pulls."),
    "sheet": ("dyno_sheet", "One session: pulls, peaks, mixture, sags, what they can show."),
    "compare": ("dyno_compare", "Two sessions, groups or pulls side by side."),
    "relate": ("dyno_relate", "How two machines read the same car."),
    "coast": ("dyno_coast", "The road load A, B, C from coast-down files."),
}


@click.command(cls=LazyGroup, table=COMMANDS)
def command() -> None:
    """Dyno sessions: raw files in, one sheet out, sessions side by side.

    \b
    buildlog dyno add run-*.csv --session baseline
    buildlog dyno sheet
    """
