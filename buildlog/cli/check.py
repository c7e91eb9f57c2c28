"""`buildlog check`: read the working files and say what is wrong or doubtful."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from buildlog.cli import names
from buildlog.cli.common import DAY, PATH, AnswerForm, end, units_form


@click.command()
@click.option("--found", is_flag=True, help="Walk the car part by part: as recorded or not.")
@click.option(
    "--answers",
    type=PATH,
    help='For --found: a TOML file: [part] clutch = "as-recorded", [set], [note].',
)
@click.option("--odometer", help='For --found: the reading, "42310 mi".')
@click.option("--by", help="For --found: who looked.", shell_complete=names.staff)
@click.option("--date", "on", type=DAY, help="For --found: the day.")
@click.option("--full", is_flag=True, help="Every note and everything that is missing.")
@units_form
def command(form: AnswerForm, found: bool, answers: Path | None, full: bool, **said: Any) -> None:
    """Read everything in the working files: syntax, units, names, plausibility, order, gates.

    \b
    buildlog check
    buildlog check --found --by D-07 --odometer "88312 mi"

    Ends with 1 if there is a caution or an error. Nothing is changed, except by --found,
    which asks for each part whether the car agrees with the ledger and writes what differs
    into car.toml, to be recorded with --kind found.
    """
    from buildlog.desk.questions.check_all import look
    from buildlog.desk.snapshot import opening
    from buildlog.report.as_json.steps_json import check_json
    from buildlog.report.as_text.steps_text import check_lines

    if found or answers:
        from buildlog.cli.walk import go_round

        go_round(form.ledger, answers, **said)
        return
    with opening.snapshot(form.ledger) as book:
        result = look(book)
        form.answer("check", result, check_json, check_lines, full, ledger=book.ledger)
    end(result.findings)
