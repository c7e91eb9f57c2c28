"""What sessions say against their own names and against each other: days, places, weather."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator, Sequence
from itertools import pairwise

from buildlog.analysis.car.history_files import Visit
from buildlog.findings import Finding
from buildlog.records.checked_paths import of_session

_DATE, _ALTITUDE = of_session("date"), of_session("altitude")
_PRESSURE = of_session("air.pressure")
_YEAR_FIRST = re.compile(r"(?<!\d)(20\d\d)([-_.]?)(\d\d)\2(\d\d)(?!\d)")
_YEAR_LAST = re.compile(r"(?<!\d)(\d\d?)[-_.](\d\d?)[-_.](20\d\d)(?!\d)")
_NEAR = 3  # years: what is further from the session's day is a number and no date
_ONE_PLACE = 30.0  # m: further apart two heights are not those of one hall
_FASTEST = 2400.0  # Pa in a day: beyond it meteorology calls a fall explosive
"""F. Sanders and J. R. Gyakum, Monthly Weather Review 108 (1980): 24 hPa in 24 h (from memory)."""


def sessions(visits: Sequence[Visit]) -> Iterator[Finding]:
    """What is doubtful in the sessions of a car, taken together."""
    for visit in visits:
        yield from _days(visit)
    places: dict[str, list[Visit]] = {}
    for visit in sorted(visits, key=lambda one: one.session.date):
        if visit.session.place is not None:
            places.setdefault(visit.session.place, []).append(visit)
    for there in places.values():
        yield from _heights(there)
        for one, other in pairwise(there):
            yield from _weather(one, other)


def _days(visit: Visit) -> Iterator[Finding]:
    """Days in the names of the session and its files that are not the session's."""
    day = visit.session.date
    for name in dict.fromkeys((visit.name, *visit.session.raw_files)):
        named = [one for one in days_in(name) if abs(one.year - day.year) <= _NEAR]
        if named and day not in named:
            text = f"the name {name} says {named[0]}, the session {day}"
            yield _doubt(
                "name-date", text, _DATE, visit, "correct date in session.toml, or name it anew"
            )


def days_in(name: str) -> list[dt.date]:
    """Every day that a name may mean; 04-05-2026 may be two.

    >>> [str(day) for day in days_in("run_20260509-2.csv")]
    ['2026-05-09']
    """
    read = [(int(y), int(m), int(d)) for y, _, m, d in _YEAR_FIRST.findall(name)]
    for one, other, year in _YEAR_LAST.findall(name):
        read += [(int(year), int(one), int(other)), (int(year), int(other), int(one))]
    return [day for numbers in read if (day := _day(*numbers)) is not None]


def _day(year: int, month: int, day: int) -> dt.date | None:
    try:
        return dt.date(year, month, day)
    except ValueError:
        return None


def _heights(there: Sequence[Visit]) -> Iterator[Finding]:
    """One place at two heights above the sea."""
    known = [one for one in there if one.session.altitude is not None]
    for one, other in pairwise(known):
        first, second = one.session.altitude, other.session.altitude
        if first and second and abs(first.si - second.si) > _ONE_PLACE:
            text = f"{other.session.place} stands {second} above the sea, in {one.name} {first}"
            yield _doubt("place-height", text, _ALTITUDE, other, "one place has one height")


def _weather(one: Visit, other: Visit) -> Iterator[Finding]:
    """Air pressure at one place that no weather moves so far in the time between."""
    pressures = [v.session.air.pressure if v.session.air else None for v in (one, other)]
    days = max((other.session.date - one.session.date).days, 1)
    if None in pressures or days > 1:
        return
    first, second = (value for value in pressures if value is not None)
    if abs(first.si - second.si) > _FASTEST * days:
        text = f"air pressure {second} here, {first} in {one.name}: no weather moves it so far"
        yield _doubt("place-weather", text, _PRESSURE, other, "look at both readings")


def _doubt(code: str, text: str, path: str, visit: Visit, hint: str) -> Finding:
    return Finding(code, "caution", text, (path,), f"dyno/{visit.name}/session.toml", hint)
