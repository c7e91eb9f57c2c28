"""What is due and when: by calendar, by counts, and by distance at the rate the car is driven."""

from __future__ import annotations

import calendar
import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from buildlog.analysis.car.history_files import HistoryFiles
from buildlog.analysis.car.version import Version, distance_run
from buildlog.analysis.workshop import partlife
from buildlog.records.car.due import Counted, Due, Every, every
from buildlog.records.day_notes import OdometerReading

_YEAR = 365  # days back that the rate looks: the year's seasons
_LEAST = 14  # days between readings that say anything of a rate
SOON = 30  # days ahead


@dataclass(frozen=True)
class Rate:
    """How far the car goes a day [m], between which readings, and how many there are."""

    per_day: float
    first: dt.date
    last: dt.date
    readings: int


@dataclass(frozen=True)
class DueState:
    """One thing that comes due, as the ledger stands.

    `since`: the day from which it counts, `since_car` [m] the car's distance then; `on`: the day
    it is due, the first of calendar and estimate, `estimated` whether that day is the estimate;
    `left` [m] at the last reading of the odometer, `left_count` of what is counted; `why`: what it
    counts from, or what is missing for an answer.
    """

    due: Due
    since: dt.date | None
    since_car: float | None
    on: dt.date | None
    estimated: bool
    left: float | None
    left_count: int | None
    rate: Rate | None
    why: str
    missing: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """What is to be done."""
        return self.due.what

    def is_due(self, day: dt.date) -> bool:
        """Whether it is due on a day, by any of its intervals."""
        late = self.on is not None and self.on <= day
        return late or any(x is not None and x <= 0 for x in (self.left, self.left_count))

    def is_soon(self, day: dt.date) -> bool:
        """Whether it is due, or will be within a month."""
        ahead = day + dt.timedelta(days=SOON)
        return self.is_due(day) or (self.on is not None and self.on <= ahead)


def due_states(history: Sequence[Version], papers: HistoryFiles) -> list[DueState]:
    """Everything that comes due in the last version, the earliest day first."""
    book = _Book(history, papers)
    found = [book.state(one) for one in history[-1].configuration.due]
    far = dt.date.max
    return sorted(found, key=lambda one: (one.on or far, one.name))


class _Book:
    """Readings, services and parts of one ledger, each looked up once."""

    def __init__(self, history: Sequence[Version], papers: HistoryFiles) -> None:
        self.history, self.papers = history, papers
        self.offset = _offset(history)
        self.points = sorted(_points(history, papers, self.offset))
        self.rate = _rate(self.points)

    def state(self, due: Due) -> DueState:
        since, car, why = self._start(due)
        wanted = every(due.every)
        now = self.points[-1] if self.points else None
        left = None
        if wanted.distance is not None and car is not None and now is not None:
            left = car + wanted.distance - now[1]
        count = self._left_count(wanted, since)
        by_day = _later(since, wanted) if since else None
        by_way = self._reached(left)
        days = [one for one in (by_day, by_way) if one is not None]
        on = min(days, default=None)
        return DueState(due, since, car, on, on is not None and on != by_day, left, count,
                        self.rate if by_way else None, why,
                        tuple(self._missing(wanted, since, car)))  # fmt: skip

    def _start(self, due: Due) -> tuple[dt.date | None, float | None, str]:
        """From when and from which distance it counts: the newest of what is known."""
        found: list[tuple[dt.date, float | None, str]] = []
        for done in self.papers.services.values():
            if done.what.casefold() == due.what.casefold():
                at = done.odometer.si + self.offset if done.odometer else self._car_on(done.date)
                found.append((done.date, at, f"done {done.date}"))
        if due.part is not None:
            life = next((one for one in partlife.part_at(self.history, self.history[-1])
                         if one.path == due.part), None)  # fmt: skip
            day = life.fitted_on or (life.fitted.date if life.fitted else None) if life else None
            if life is not None and day is not None:
                found.append((day, life.car_at_fitting, f"{life.name} fitted {day}"))
        if found:
            return max(found, key=lambda one: one[0])
        at = due.last_at.si + self.offset if due.last_at else None
        if due.last_on is None and at is None:
            return None, None, "never done on record"
        return due.last_on, at, "last done before this ledger"

    def _car_on(self, day: dt.date) -> float | None:
        """The car's distance on a day that has a reading."""
        return next((car for date, car in reversed(self.points) if date == day), None)

    def _left_count(self, wanted: Every, since: dt.date | None) -> int | None:
        if wanted.count is None or wanted.counted is None or since is None:
            return None
        told = [_counted(one, wanted.counted) for one in self.papers.readings.values()
                if one.date > since]  # fmt: skip
        known = [one for one in told if one is not None]
        return wanted.count - sum(known) if known else None

    def _reached(self, left: float | None) -> dt.date | None:
        """The day on which a distance will have been driven, at the rate of the last year."""
        if left is None or not self.points:
            return None
        last = self.points[-1][0]
        if left <= 0:
            return last
        if self.rate is None or self.rate.per_day <= 0:
            return None
        days = left / self.rate.per_day
        return last + dt.timedelta(days=int(days)) if days < 36_500 else None

    def _missing(self, wanted: Every, since: dt.date | None, car: float | None) -> Iterator[str]:
        if wanted.distance is not None and car is None:
            yield "the odometer when it was last done"
        elif wanted.distance is not None and self.rate is None:
            yield f"two odometer readings {_LEAST} days apart, for a day"
        if (wanted.months or wanted.days) and since is None:
            yield "the day when it was last done"
        if wanted.counted is not None and self._left_count(wanted, since) is None:
            yield f"how many {wanted.counted} since"


def _counted(one: OdometerReading, name: Counted) -> int | None:
    table: Mapping[Counted, int | None] = {
        "starts": one.starts, "passes": one.passes, "heat cycles": one.heat_cycles,
    }  # fmt: skip
    return table[name]


def _offset(history: Sequence[Version]) -> float:
    """What the instrument reads too little today [m]."""
    for version, run in zip(reversed(history), reversed(distance_run(history)), strict=True):
        if run is not None and version.odometer is not None:
            return run - version.odometer
    return 0.0


def _points(
    history: Sequence[Version], papers: HistoryFiles, offset: float
) -> Iterator[tuple[dt.date, float]]:
    """Days with the car's distance [m]: of entries, sessions' entries included, and readings."""
    for version, run in zip(history, distance_run(history), strict=True):
        counts = version.number and version.kind != "earlier"
        if counts and version.date is not None and run is not None:
            yield version.date, run
    for one in papers.readings.values():
        yield one.date, one.odometer.si + offset


def _rate(points: Sequence[tuple[dt.date, float]]) -> Rate | None:
    """Between the first and the last reading of the last year."""
    if not points:
        return None
    newest = points[-1]
    near = [one for one in points if (newest[0] - one[0]).days <= _YEAR]
    days = (newest[0] - near[0][0]).days
    if days < _LEAST:
        return None
    return Rate((newest[1] - near[0][1]) / days, near[0][0], newest[0], len(near))


def _later(day: dt.date, wanted: Every) -> dt.date | None:
    """The day on which a time is over; None where no time is asked for."""
    if wanted.days is not None:
        return day + dt.timedelta(days=wanted.days)
    if wanted.months is None:
        return None
    months = day.year * 12 + day.month - 1 + wanted.months
    year, month = divmod(months, 12)
    return dt.date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))
