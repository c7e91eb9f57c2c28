"""`buildlog set`: edit car.toml, keeping comments and order."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from buildlog.cli import names
from buildlog.cli.common import at_terminal, ledger_option, open_ledger, say

if TYPE_CHECKING:
    from buildlog.desk.acts.car_fields import BetterFigure


@click.command()
@click.argument(
    "assignments", metavar="PATH=VALUE...", nargs=-1, required=True, shell_complete=names.assignment
)
@click.option("--same-part", is_flag=True, help="Ratings are known better; no part is another.")
@ledger_option
def command(assignments: tuple[str, ...], same_part: bool, ledger_folder: Path | None) -> None:
    """Set fields of car.toml in the working files; an empty value removes the field.

    \b
    buildlog set engine.compression_ratio=9.0 fuel.injectors.flow="550 cc/min"
    buildlog set exhaust.sound_level=
    buildlog set fuel.injectors.flow="557 cc/min" --same-part

    Where only a rating or a flow of a part changes, under one maker and number it is the same part
    with a better figure; where nothing says which part it is, you are asked.
    """
    from buildlog.desk.acts.car_fields import set_fields
    from buildlog.report.as_text.acts_text import set_lines

    with open_ledger(ledger_folder) as ledger:
        ask = _another if at_terminal() else None
        done = set_fields(ledger, assignments, same_part=same_part, ask=ask)
    say(set_lines(done))


def _another(one: BetterFigure) -> bool:
    """Whether the part is another one, as the person at the terminal says."""
    question = f"{', '.join(one.fields)}: another part, or a better figure?"
    answers = click.Choice(["another", "better"])
    return str(click.prompt(question, type=answers, default="better")) == "another"
