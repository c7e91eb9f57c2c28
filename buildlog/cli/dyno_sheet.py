"""`buildlog dyno sheet`: one session, worked out."""

from __future__ import annotations

from pathlib import Path

import click

from buildlog.cli import names
from buildlog.cli.common import PATH, AnswerForm, standard_option, strict_form


@click.command()
@click.argument("session", metavar="[SESSION]", required=False, shell_complete=names.session)
@standard_option
@click.option("--full", is_flag=True, help="All findings, and ratios of the fuel in the tank.")
@click.option("--figure", type=PATH, help="Also draw it: PNG, SVG or PDF.")
@strict_form
def command(
    form: AnswerForm, session: str | None, standard: str | None, full: bool, figure: Path | None
) -> None:
    """One session: conditions, pulls, peaks, mixture, sags, and what the pulls can show.

    \b
    buildlog dyno sheet
    buildlog dyno sheet stage-2 --standard none --figure sheet.png

    SESSION is its name or enough of it to be unique; the newest without one.
    """
    from buildlog.desk.questions.visits import session_sheet
    from buildlog.desk.snapshot import opening
    from buildlog.report.as_json.sheet_json import sheet_json
    from buildlog.report.as_text.sheet_text import sheet_lines

    with opening.snapshot(form.ledger) as book:
        report = session_sheet(book, session, standard)
        if figure is not None:
            from buildlog.desk.give.plotting import sheet_figure

            sheet_figure(book, report, form.units).write(figure)
        form.answer("dyno-sheet", report, sheet_json, sheet_lines, full, ledger=book.ledger)
    form.end(report.findings)
