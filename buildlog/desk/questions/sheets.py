"""One dyno session worked out, with all that is to be said of it."""

from __future__ import annotations

from dataclasses import replace

from buildlog.analysis.car.changes import physically_equal
from buildlog.analysis.pulls.sheet import Sheet
from buildlog.analysis.pulls.sheet_report import SheetReport, optimistic, sheet_report
from buildlog.analysis.workshop import doubts
from buildlog.desk.questions.visits import pooled
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import UsageError
from buildlog.findings import Finding, worst_first


def standard_named(text: str) -> str:
    """A power correction by any of its trade names; UsageError for one that is not known."""
    from buildlog.physics.gases import correction

    try:
        name = correction.standard_named(text)
    except ValueError as error:
        raise UsageError(str(error)) from None
    if name == "unknown":
        raise UsageError("nothing can be brought to an unknown standard")
    return name


def session_sheet(
    book: Snapshot, session: str | None = None, standard: str | None = None
) -> SheetReport:
    """A session by its name or an unmistakable part of it; the newest without one."""
    name = book.session_name(session)
    sheet = pooled(book, book.sheet(name, standard))
    report = sheet_report(sheet, book.owner(name).configuration)
    findings = (*worst_first([*_doubted(book, sheet), *report.findings]),)
    return replace(report, findings=findings, beside=_beside(book, name))


def _doubted(book: Snapshot, sheet: Sheet) -> list[Finding]:
    """What is doubtful about wheel power of this height in this car."""
    if not sheet.groups or sheet.at == "crank":
        return []
    owner = book.owner(sheet.name).configuration
    peak = {sheet.name: max(group.peak_power.value for group in sheet.groups)}
    history = book.history if book.session_places[sheet.name].number else book.until_now
    known = doubts.wheel_power(history, book.papers, peak)
    if physically_equal(history[0].configuration, owner):
        return [*known, *optimistic(sheet, owner)]
    return known


def _beside(book: Snapshot, name: str) -> tuple[str, str] | None:
    """This session and the one before it by date; with the one after where it is the first."""
    order = sorted(book.session_places, key=lambda known: book.session(known).date)
    at = order.index(name)
    pair = order[max(at - 1, 0) : max(at - 1, 0) + 2]
    return (pair[0], pair[1]) if len(pair) == 2 else None
