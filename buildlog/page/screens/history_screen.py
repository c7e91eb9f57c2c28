"""The history: every entry, newest first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildlog.page.drawing.say import Ruled, brief_day, display, sentence
from buildlog.page.drawing.templating import drawn
from buildlog.records.recorded_peak import recorded_peak
from buildlog.report.as_text.history_text import headline, what
from buildlog.report.numbers import Display

if TYPE_CHECKING:
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.page.asked import Asked


def page(asked: Asked) -> str:
    """All entries; a tap shows one."""
    book = asked.car
    show = display(book)
    entries = book.entries
    said = sentence(headline(entries, show)) if entries else "Nothing is recorded yet."
    rows = [entry_row(asked, book, number, show) for number in range(len(entries), 0, -1)]
    return drawn("history", asked, said=said, rows=rows, title="History · buildlog")


def entry_row(asked: Asked, book: Snapshot, number: int, show: Display) -> Ruled:
    """One entry: number and kind, day and odometer, what was done."""
    one = book.entries[number - 1]
    peak = recorded_peak(one.measured)
    power = show.value(peak.power_w, "power", 0) if peak and peak.power_w else ""
    at = show.distance(one.odometer_m) if one.odometer_m is not None else ""
    state = ", ".join(filter(None, (brief_day(one.work_date), at, power)))
    return Ruled(f"{one.number} {one.kind}", asked.at(f"history/{one.number}"), state,
               what(one, full=True))  # fmt: skip
