"""Work that no field of the car holds: paint, seats, detailing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildlog.page.drawing.form_fields import FormField, form
from buildlog.page.drawing.say import listed

if TYPE_CHECKING:
    from buildlog.page.asked import Asked


def page(asked: Asked) -> str:
    """What was done, and a note."""
    known = [one.item for one in asked.car.newest.configuration.work]
    fields = [FormField("text", "item", "What was done"), FormField("area", "done", "Note")]
    lead = f"Noted so far: {listed(known)}." if known else "Nothing of this kind is noted so far."
    return form(asked, "work", fields, said="Which work was done?", lead=lead, main="Save work")
