"""The odometer as it stands now, set against the last reading."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildlog.desk.questions.waits import newest_reading
from buildlog.page.drawing.form_fields import FormField, form
from buildlog.page.drawing.say import brief_day, display

if TYPE_CHECKING:
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.page.asked import Asked


def page(asked: Asked) -> str:
    """One figure; less than the last one asks for a note."""
    book = asked.car
    unit = display(book).unit("length").text
    fields = [FormField("figure", "value", "Reading", unit=unit),
              FormField("text", "note", "Note, if it shows less than before")]  # fmt: skip
    return form(
        asked, "odometer", fields, said="Odometer now", lead=f"Last: {last_reading(book)}.",
        main="Save reading",
    )  # fmt: skip


def last_reading(book: Snapshot) -> str:
    """ "89,541 mi on 6 June": of the newest entry, or of a note that is newer."""
    show = display(book)
    found = [(one.work_date, one.odometer_m) for one in book.entries if one.odometer_m is not None]
    noted = newest_reading(book)
    if noted is not None:
        found.append((noted.date, noted.odometer.si))
    if not found:
        return "never noted"
    when, metres = max(found, key=lambda one: one[0])
    return f"{show.distance(metres)} on {brief_day(when)}"
