"""Files of a session, with what was around it; or a second logger's files for one that is there."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildlog.desk.snapshot.snapshot import today
from buildlog.page.drawing.form_fields import FormField, form
from buildlog.page.drawing.say import display
from buildlog.records.session import Air

if TYPE_CHECKING:
    from buildlog.page.asked import Asked
    from buildlog.records.session import Session
    from buildlog.units import Quantity

_APPLIED = (
    ("unknown", "not known"), ("none", "none: the numbers are as observed"),
    ("SAE J1349", "SAE J1349"), ("DIN 70020", "DIN 70020"), ("ISO 1585", "ISO 1585"),
    ("EEC 80/1269", "EEC 80/1269"), ("SAE J607", "SAE J607"),
)  # fmt: skip

_WEATHER = {"temperature": ("degC", "degF"), "pressure": ("hPa", "inHg"),
            "humidity": ("percent", "percent")}  # fmt: skip


def page(asked: Asked) -> str:
    """What was typed last time stands in the fields."""
    book = asked.car
    name = asked.query.get("session")
    if name:
        return _second_logger(asked, book.session_name(name))
    last = max((one.session for one in book.visits), key=lambda one: one.date, default=None)
    lead = (
        "Files of the pulls, as the dyno wrote them. Files of other loggers are added to a session "
        "afterwards. How columns were taken is shown next, and can be put right."
    )
    return form(
        asked, "dyno-add", _fields(asked, last), said="Which files did the dyno write?", lead=lead,
        main="Add files", back=asked.at("dyno"), title="Add files",
    )  # fmt: skip


def _fields(asked: Asked, last: Session | None) -> list[FormField]:
    unit = display(asked.car).unit("length").text
    us = display(asked.car).system == "us"
    dyno, air = last.dyno if last else None, (last.air if last else None) or Air()
    return [
        FormField("files", "files", "Files"),
        FormField("text", "session", "What the session is called", hint="for example: before"),
        FormField("date", "date", "Day", today().isoformat()),
        FormField("text", "dyno", "The shop’s name for the dyno", dyno.id or "" if dyno else ""),
        FormField("text", "place", "Place", last.place or "" if last else ""),
        FormField("digits", "gear", "Gear of the pulls", str(last.gear or "") if last else ""),
        FormField("choice", "standard", "Correction already in the numbers",
                  last.standard_applied or "unknown" if last else "unknown", options=_APPLIED),
        _weather("temperature", "Air temperature", air.temperature, us),
        _weather("pressure", "Air pressure at the place", air.pressure, us),
        _weather("humidity", "Relative humidity", air.humidity, us),
        FormField("figure", "odometer", "Odometer", unit=unit),
    ]  # fmt: skip


def _weather(name: str, label: str, last: Quantity | None, us: bool) -> FormField:
    """In the unit of the last time, which is told; never put into the field, since it is another
    day."""
    unit = last.unit.text if last else _WEATHER[name][us]
    was = f"last time {last.unit.from_si(last.si):.6g}" if last else ""
    return FormField("figure", name, label, unit=unit, hint=was)


def _second_logger(asked: Asked, name: str) -> str:
    pulls = [(one.name, one.name) for one in asked.car.session(name).pull]
    fields = [
        FormField("files", "files", "Files of the other logger"),
        FormField("choice", "pull", "Of which pull", options=[("", "find out"), *pulls]),
        FormField("text", "shift", "Shift, where it is known", hint="else it is found"),
    ]
    electric = asked.car.working.configuration.car.power_source == "electric"
    lead = (
        f"They are laid beside the pulls by {'motor' if electric else 'engine'} speed, else by "
        "another quantity that both have."
    )
    return form(
        asked, "log-add", fields, said=f"Add a second logger’s files to {name}", lead=lead,
        main="Add files", what=name, back=asked.at(f"dyno/{name}"), title="Add files",
    )  # fmt: skip
