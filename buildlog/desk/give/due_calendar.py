"""What comes due as an iCalendar file (RFC 5545), for the shop's own calendar. A car stands there
by its name: neither its VIN nor anybody's name leaves with it."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Sequence
from pathlib import Path

from buildlog.analysis.answers.due_steps import rate_days, why
from buildlog.analysis.workshop.due_book import DueState
from buildlog.desk.give import made_files
from buildlog.desk.questions.due_answers import CarDue
from buildlog.errors import UsageError
from buildlog.report.numbers import Display


def write_calendar(cars: Sequence[CarDue], out: Path, show: Display) -> int:
    """Write every day that is known; how many there are. An event keeps its UID, so that a
    calendar that reads the file again moves it and does not double it."""
    if out.suffix.lower() != ".ics":
        raise UsageError(f"{out.name} is no calendar file", hint="end it in .ics")
    data, count = calendar_bytes(cars, show, dt.datetime.now(dt.UTC))
    made_files.put(out, data, "the calendar")
    return count


def calendar_bytes(cars: Sequence[CarDue], show: Display, now: dt.datetime) -> tuple[bytes, int]:
    """The file, and how many events it holds."""
    from icalendar import Calendar, Event

    calendar = Calendar()
    calendar.add("prodid", "-//buildlog//due//EN")
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", "Due on the cars")
    known = [(car, one) for car in cars for one in car.states if one.on is not None]
    for car, one in known:
        event = Event()
        event.add("uid", _uid(car, one))
        event.add("dtstamp", now)
        event.add("dtstart", one.on)
        event.add("dtend", (one.on or now.date()) + dt.timedelta(days=1))
        event.add("summary", f"{one.name}: {car.name}")
        event.add("description", _said(one, show))
        event.add("transp", "TRANSPARENT")
        calendar.add_component(event)
    return calendar.to_ical(), len(known)


def _uid(car: CarDue, one: DueState) -> str:
    """The same for the same thing of the same car, whenever the file is made."""
    digest = hashlib.sha256(f"{car.ledger} {one.name.casefold()}".encode()).hexdigest()
    return f"{digest[:32]}@buildlog.invalid"


def _said(one: DueState, show: Display) -> str:
    said = [f"{why(one)}."]
    if one.left is not None:
        said.append(f"Left at the last reading: {show.distance(max(one.left, 0.0))}.")
    if one.estimated and one.rate is not None:
        far = show.value(one.rate.per_day, "length", 1)
        said.append(f"Estimated at {far} a day ({rate_days(one.rate)}).")
    return " ".join(said)
