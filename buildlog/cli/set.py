"""`buildlog set`: edit car.toml, keeping comments and order."""

from __future__ import annotations

from pathlib import Path

import click

from buildlog.cli import names
from buildlog.cli.common import ledger_option, open_ledger, say


@click.command()
@click.argument(
    "assignments", metavar="PATH=VALUE...", nargs=-1, required=True, shell_complete=names.assignment
)
@ledger_option
def command(assignments: tuple[str, ...], ledger_folder: Path | None) -> None:
    """Set fields of car.toml in the working files; an empty value removes the field.

    \b
    buildlog set engine.compression_ratio=9.0 fuel.injectors.flow="550 cc/min"
    buildlog set exhaust.sound_level=
    """
    from buildlog.desk.acts.car_fields import set_fields
    from buildlog.report.as_text.acts_text import set_lines

    with open_ledger(ledger_folder) as ledger:
        done = set_fields(ledger, assignments)
    say(set_lines(done))
