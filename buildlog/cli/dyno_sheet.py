"""`buildlog dyno sheet`: one session, worked out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from buildlog.cli.common import (
    display,
    end,
    json_option,
    ledger_option,
    read_ledger,
    say,
    say_json,
    standard_option,
    strict_option,
    units_option,
)

if TYPE_CHECKING:
    from buildlog.analysis.pulls.sheet_report import SheetReport
    from buildlog.desk.snapshot.snapshot import Snapshot


@click.command()
@click.argument("session", metavar="[SESSION]", required=False)
@standard_option
@click.option("--full", is_flag=True, help="All findings, and ratios of the fuel in the tank.")
@click.option("--figure", type=click.Path(path_type=Path), help="Also draw it: PNG, SVG or PDF.")
@ledger_option
@units_option
@strict_option
@json_option
def command(
    session: str | None,
    standard: str | None,
    full: bool,
    figure: Path | None,
    ledger_folder: Path | None,
    units: str | None,
    strict: bool,
    as_json: bool,
) -> None:
    """One session: conditions, pulls, peaks, mixture, sags, and what the pulls can show.

    \b
    buildlog dyno sheet
    buildlog dyno sheet stage-2 --standard none --figure sheet.png

    SESSION is its name or an unmistakable part of it; the newest without one.
    """
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.report.as_json.sheet_json import sheet_json
    from buildlog.report.as_text.sheet_text import sheet_lines

    with read_ledger(ledger_folder) as ledger:
        book = Snapshot(ledger)
        name = book.session_name(session)
        report = worked_out(book, name, standard)
        shown = display(ledger, units)
        if figure is not None and report.sheet.groups:
            from buildlog.report.pictures.figures import draw, write
            from buildlog.report.pictures.sheet_pictures import sheet_picture

            write(draw(sheet_picture(report, book.owner(name).configuration, shown)), figure)
        if as_json:
            say_json("dyno-sheet", sheet_json(report))
        else:
            say(sheet_lines(report, shown, full, _next(book, name)))
    end(report.findings, strict)


def worked_out(book: Snapshot, name: str, standard: str | None) -> SheetReport:
    """A session with all that is to be said of it."""
    from dataclasses import replace

    from buildlog.analysis.car.changes import physically_equal
    from buildlog.analysis.pulls.sheet_report import optimistic, sheet_report
    from buildlog.analysis.workshop import doubts
    from buildlog.desk.questions.visits import pooled
    from buildlog.findings import worst_first

    sheet = pooled(book, book.sheet(name, standard))
    report = sheet_report(sheet, book.owner(name).configuration)
    if not sheet.groups or sheet.at == "crank":
        return report
    peak = {name: max(group.peak_power.value for group in sheet.groups)}
    owner = book.owner(name)
    history = book.history if book.session_places[name].number else book.until_now
    known = doubts.wheel_power(history, book.papers, peak)
    if physically_equal(history[0].configuration, owner.configuration):
        known += optimistic(sheet, owner.configuration)
    return replace(report, findings=tuple(worst_first([*known, *report.findings])))


def _next(book: Snapshot, name: str) -> str:
    """The command that follows: this session beside the one before it."""
    order = sorted(book.session_places, key=lambda n: book.session(n).date)
    at = order.index(name)
    if at:
        return f"buildlog dyno compare {order[at - 1]} {name}"
    if len(order) > 1:
        return f"buildlog dyno compare {name} {order[1]}"
    return "buildlog diff"
