"""Sessions whose power stands beside a figure for the crank, and what to ask about the two."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import replace

from buildlog.analysis.workshop import wheel_and_crank
from buildlog.analysis.workshop.wheel_and_crank import SessionPeak
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import BuildlogError
from buildlog.findings import Finding


def two_powers(book: Snapshot, names: Collection[str] | None = None) -> list[Finding]:
    """What to ask about these sessions, else about all; a sheet is made of those alone that have
    a figure beside it."""
    visits = [one for one in book.papers.visits if names is None or one.name in names]
    if not visits:
        return []
    recorded = all(book.session_places[one.name].number for one in visits)
    history = book.history if recorded else book.until_now
    papers = replace(book.papers, visits=visits)
    asked = [
        visit.name
        for index, visit in papers.visits_in(history)
        if wheel_and_crank.may_be_asked(history[: index + 1], visit)
    ]
    return wheel_and_crank.doubted(history, papers, dict(_peaks(book, asked)))


def _peaks(book: Snapshot, names: list[str]) -> Iterator[tuple[str, SessionPeak]]:
    for name in names:
        try:
            sheet = book.sheet(name)
        except BuildlogError:
            continue
        if sheet.groups:
            highest = max(group.peak_power.value for group in sheet.groups)
            yield name, SessionPeak(highest, sheet.at, sheet.standard)
