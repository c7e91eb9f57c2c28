"""The odometer as it stands now, set against the last reading."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildlog.page.screens.form_fields import FormField, form
from buildlog.page.screens.say import brief_day, day, display

if TYPE_CHECKING:
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.page.asked import Asked


def page(asked: Asked) -> str:
    """One figure; less than the last one asks for a note."""
    book = asked.car
    unit = display(book).unit("length").text
    fields = [FormField("figure", "value", "Reading", unit=unit)]
    if asked.wrong or "note" in asked.typed:
        fields.append(FormField("text", "note", "Note"))
    return form(
        asked, "odometer", fields, said="Odometer now", lead=f"Last: {last_reading(book)}.",
        main="Save reading", old=_old(book),
    )  # fmt: skip


def last_reading(book: Snapshot) -> str:
    """ "89,541 mi on 6 June"."""
    show = display(book)
    for entry in reversed(book.entries):
        if entry.odometer_m is not None:
            when = brief_day(entry.work_date) if entry.work_date else day(None)
            return f"{show.distance(entry.odometer_m)} on {when}"
    return "never noted"


def _old(book: Snapshot) -> str:
    readings = [one.odometer for one in book.entries if one.odometer]
    return readings[-1] if readings else ""
