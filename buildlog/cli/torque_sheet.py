"""`buildlog torque sheet`, `do` and `show`: a maker's sheet of joints, gone through by stages."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from buildlog.cli import names
from buildlog.cli.common import (
    DAY,
    PATH,
    AnswerForm,
    at_terminal,
    json_form,
    open_ledger,
    say,
    units_form,
)

if TYPE_CHECKING:
    from buildlog.desk.acts.torque_sheets import SheetState, StageAsked, StageWritten
    from buildlog.errors import BuildlogError

odometer_option = click.option(
    "--odometer", help='The reading: "42310 mi" (else that of the newest entry).'
)
by_option = click.option(
    "--by", help="Who tightens them: initials or a staff number.", shell_complete=names.staff
)
date_option = click.option("--date", "on", type=DAY, help="The day (else today).")


@click.command("sheet")
@click.argument("file", type=PATH)
@click.option("--title", help="What the sheet is of (else what the file says, or its name).")
@click.option("--source", help="Whose sheet it is: maker, edition, page.")
@click.option(
    "--map", "maps", multiple=True, metavar="FIELD=COLUMN[:UNIT]", help="What a column is."
)
@click.option("--note", help="Anything else.")
@odometer_option
@by_option
@date_option
@json_form
def sheet(form: AnswerForm, file: Path, **said: Any) -> None:
    """Read a maker's sheet of joints from FILE, a CSV or TOML file, into torque/.

    \b
    buildlog torque sheet head-and-mains.csv --source "engine manual, table 4"
    buildlog torque sheet list.csv --map "torque=Value:N*m" --map "count=Pieces"

    Columns are read from their headings: joint, count, thread, grade, torque or min and max,
    stage 1, stage 2, angle, order, tool, note. A torque may be written "22 N*m", "20-24 N*m",
    "22 ± 2 N*m" or "30 / 60 N*m + 90 deg".
    """
    from buildlog.desk.acts.torque_sheets import SheetSaid, add_sheet
    from buildlog.report.as_json.sheet_of_joints_json import sheet_written_json
    from buildlog.report.as_text.sheet_of_joints_text import sheet_read_lines

    with open_ledger(form.ledger) as ledger:
        done = add_sheet(ledger, file, SheetSaid(**said))
    form.answer("torque-sheet", done, sheet_written_json, sheet_read_lines)


@click.command("do")
@click.argument("name", required=False, shell_complete=names.sheet)
@click.option("--joint", help="This joint alone, by its name or its place: 3.")
@click.option("--stage", type=click.IntRange(1, 20), help="Which stage of it (else the next left).")
@click.option("--number", type=click.IntRange(1, 200), help="One of its fasteners (else all).")
@click.option("--value", help='What it got: "60 N*m", "44 lb*ft", "90 deg" (else what is asked).')
@click.option(
    "--how",
    type=click.Choice(["tool setting", "reading"]),
    help="Whether values are what the tool was set to (the default), or were read.",
)
@click.option("--take-back", is_flag=True, help="Take back what was written of that stage.")
@click.option(
    "--again",
    is_flag=True,
    help="Begin anew what is due again, else all of it: after heat cycles, a distance.",
)
@odometer_option
@by_option
@date_option
@json_form
def do(form: AnswerForm, name: str | None, **said: Any) -> None:
    """Go through the sheet NAME joint by joint, stage by stage; each answer is saved at once.

    \b
    buildlog torque do head
    buildlog torque do head --joint caps --stage 2 --value "60 N*m" --how reading

    At a terminal it asks; in a script each line of the input answers one stage, in the same
    words. Stop when you like: it goes on with what is left. Without NAME the only sheet that is
    not finished is meant.
    """
    from buildlog.report.as_json.sheet_of_joints_json import sheet_written_json
    from buildlog.report.as_text.sheet_of_joints_text import stage_end_lines, went_through_lines

    alone = said["joint"] is not None
    _refuse_without_joint(said)
    with open_ledger(form.ledger) as ledger:
        if said.pop("again"):
            name = _begun_again(ledger, name, said)
        said.pop("odometer")
        done = _one_stage(ledger, name, said) if alone else _through(ledger, name, said, form)
    lines = stage_end_lines if alone else went_through_lines
    form.answer("torque-do", done, sheet_written_json, lines)


@click.command("show")
@click.argument("name", required=False, shell_complete=names.sheet)
@units_form
def show(form: AnswerForm, name: str | None) -> None:
    """Show a sheet: what each joint asks for, what was done, what is left.

    \b
    buildlog torque show head
    """
    from buildlog.desk.questions.day_books import sheet_named, sheets
    from buildlog.report.as_json.sheet_of_joints_json import sheet_json
    from buildlog.report.as_text.sheet_of_joints_text import sheet_lines

    with open_ledger(form.ledger) as ledger:
        known = sheets(ledger)
        form.display(ledger)  # from here on in the units of this car
    found = known[-1] if name is None and known else sheet_named(known, name)
    form.answer("torque-show", found, sheet_json, sheet_lines)


def _refuse_without_joint(said: dict[str, Any]) -> None:
    from buildlog.errors import UsageError

    if said["joint"] is None:
        for option in ("stage", "number", "value", "take_back"):
            if said[option]:
                raise UsageError(f"--{option.replace('_', '-')} belongs to one joint",
                                 hint="--joint NAME")  # fmt: skip


def _begun_again(ledger: Any, name: str | None, said: dict[str, Any]) -> str:
    from buildlog.desk.acts.torque_sheets import SheetSaid, sheet_again
    from buildlog.errors import UsageError

    if name is None:
        raise UsageError("which sheet is to be done again?", hint="buildlog torque do NAME --again")
    more = SheetSaid(odometer=said["odometer"], by=said["by"], on=said["on"])
    return sheet_again(ledger, name, more, said["joint"]).state.name


def _one_stage(ledger: Any, name: str | None, said: dict[str, Any]) -> StageWritten:
    from buildlog.desk.acts import torque_sheets

    joint, stage, number = said["joint"], said["stage"], said["number"]
    if said["take_back"]:
        return torque_sheets.take_back_stage(ledger, name, joint, stage, number=number)
    return torque_sheets.tighten(
        ledger, name, joint, stage, said["value"], number=number, how=said["how"], by=said["by"],
        on=said["on"],
    )  # fmt: skip


def _through(ledger: Any, name: str | None, said: dict[str, Any], form: AnswerForm) -> Any:
    from buildlog.desk.acts.torque_sheets import go_through

    fitter = (
        _FitterAtTerminal()
        if at_terminal() and not form.as_json
        else _FitterInLines(quiet=form.as_json)
    )
    return go_through(ledger, name, fitter, how=said["how"], by=said["by"], on=said["on"])


class _FitterAtTerminal:
    """The person at the terminal asked for each stage; Enter leaves one for later, q stops."""

    def begun(self, state: SheetState) -> None:
        from buildlog.report.as_text.sheet_of_joints_text import ANSWERS

        say([state.progress, ANSWERS])

    def ask(self, one: StageAsked, refused: BuildlogError | None) -> str | None:
        from buildlog.report.as_text.sheet_of_joints_text import stage_asked_lines

        say(f"{refused}" if refused else stage_asked_lines(one))
        answer = click.prompt("   ", default="", show_default=False, prompt_suffix="> ").strip()
        return None if answer == "q" else answer

    def tell(self, done: StageWritten) -> None:
        from buildlog.report.as_text.sheet_of_joints_text import stage_lines

        say(stage_lines(done))


class _FitterInLines:
    """Answers line by line from the input; one that cannot be taken ends it, with its line."""

    def __init__(self, quiet: bool) -> None:
        self._quiet, self._line = quiet, 0

    def begun(self, state: SheetState) -> None:
        pass

    def ask(self, one: StageAsked, refused: BuildlogError | None) -> str | None:
        if refused is not None:
            refused.where = f"line {self._line} of the input, {one.joint.name}"
            raise refused
        text = sys.stdin.readline()
        self._line += 1
        return None if not text or text.strip() == "q" else text.strip()

    def tell(self, done: StageWritten) -> None:
        from buildlog.report.as_text.sheet_of_joints_text import stage_lines

        if not self._quiet:
            say(stage_lines(done))
