"""Battery power: what the pack was logged to give, of what is stated for that charge."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.margins.figures.demand_figure import DemandFigure, absent
from buildlog.analysis.margins.figures.margin_car import MarginCar, stated_limit
from buildlog.analysis.margins.figures.margin_rows import Row, kind_of, row
from buildlog.records.checked_paths import field

KIND = kind_of(__file__)
LOGGED = "a session that logs pack_power"
_RATED = stated_limit("battery.rated_power")
_LOW = stated_limit("battery.low_charge.rated_power")
_AT = field("battery.low_charge.state_of_charge")


def rows(car: MarginCar) -> Iterator[Row]:
    """One of an electric car, and of any whose pack has a stated power; another of a low charge,
    where a power is stated for it. No formula stands in for a log."""
    rated, low = car.limit(_RATED), car.limit(_LOW)
    at = car.given(_AT).p50
    if not rated.unstated or not car.combustion:
        words = "" if at is None else f" above {100 * at:.0f} % of charge"
        yield row(KIND, _given(car, words, above=at), rated)
    if not low.unstated:
        words = f" at {100 * (at or 0):.0f} % of charge or less"
        given = absent(_AT) if at is None else _given(car, words, at_most=at)
        yield row(KIND, given, low, what="at a low charge")


def _given(car: MarginCar, words: str, **charge: float | None) -> DemandFigure:
    """The most that the pack gave in the pulls of this configuration [W]."""
    run = car.subject.run
    found = None if run is None or run.pack is None else run.pack.greatest(**charge)
    return absent(LOGGED + words) if found is None else found
