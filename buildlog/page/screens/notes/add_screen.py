"""What can be written down: the most used lowest, under the thumb."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildlog.page.drawing.say import Ruled
from buildlog.page.drawing.templating import drawn
from buildlog.page.screens.notes.odometer_screen import last_reading

if TYPE_CHECKING:
    from buildlog.page.asked import Asked


def page(asked: Asked) -> str:
    """Rows that end at the bar; the photo is taken from here."""
    rows = [
        Ruled(name, asked.at(place), "", why)
        for name, place, why in (
            ("Due thing done", "due", "service, recheck of joints, tires"),
            ("Waiting for", "waiting", "a part, the go-ahead, outside work"),
            ("Work", "work", "paint, seats, detailing"),
            ("Fault", "fault", "something broke or was complained of"),
            ("Part", "parts", "fitted, removed, swapped, put back"),
        )
    ]
    return drawn(
        "add", asked, said="What do you want to write down?", rows=rows,
        odometer=last_reading(asked.car), title="Add · buildlog",
    )  # fmt: skip
