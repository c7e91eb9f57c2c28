"""What runs out first when boost or power is raised: the first limit and those behind it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

from buildlog.analysis.margins.all_margins import margins, worse
from buildlog.analysis.margins.figures import charge_demand
from buildlog.analysis.margins.figures.margin_car import MarginCar, Subject, with_power
from buildlog.analysis.margins.figures.margin_rows import Row
from buildlog.analysis.margins.figures.shaft_demand import wheel_power
from buildlog.analysis.margins.margin_table import margin_file
from buildlog.errors import InvalidInput
from buildlog.physics.gases import charge
from buildlog.physics.numerics.band import Band
from buildlog.physics.numerics.constants import ATM
from buildlog.physics.parts.limit_search import Reach, Trial, headroom
from buildlog.physics.parts.margin import Margin, State

FURTHEST = 3.0
"""[-] how many times the present power is looked at."""

_HIGHEST_BOOST = 600e3  # Pa gauge, the bound of the field


@dataclass(frozen=True)
class Ends:
    """A figure for 10, 50 and 90 of 100 cases; None where it is not reached in the range."""

    p10: float | None
    p50: float | None
    p90: float | None


@dataclass(frozen=True)
class ReachedLimit:
    """Where a margin reaches its limit: wheel power [W] and boost [Pa gauge]; None without boost.

    p10 of the power equal to the present one: reached there or lower.
    """

    row: Row
    power: Ends
    boost: Ends | None

    @property
    def name(self) -> str:
        """The margin's name."""
        return self.row.name


@dataclass(frozen=True)
class Room:
    """The limits in the order in which they are reached, and those that play no part in it."""

    subject: Subject
    power: float
    boost: float | None
    limits: tuple[ReachedLimit, ...]
    over: tuple[Row, ...]
    not_reached: tuple[Row, ...]
    independent: tuple[Row, ...]
    unknown: tuple[Row, ...]


def room(subject: Subject) -> Room:
    """Raise boost, or power without a compressor, until each margin reaches its limit at P50.

    Everything that power and boost drive is evaluated anew at each trial: pump flow falls as
    boost rises. InvalidInput where no power is known.
    """
    run = subject.run
    if run is None:
        raise InvalidInput(
            "no power of this version is known, so there is nothing to raise",
            why=subject.no_run,
            hint="buildlog dyno add FILE... --session NAME",
        )
    now = margins(subject)
    counted = {one.name: one for one in now if not one.kind.information}
    car = MarginCar(subject)
    boost = boost_for(car)
    low = run.power.p50
    found = headroom(_trials(subject, counted, boost), low, FURTHEST * low)
    to_wheels = (wheel_power(car).p50 or low) / low
    return Room(
        subject,
        low * to_wheels,
        charge_demand.boost(car).p50 if car.boosted else None,
        tuple(_limit(reach, counted, to_wheels, boost if car.boosted else None)
              for reach in found.reached),
        tuple(counted[name] for name in found.over_throughout),
        tuple(counted[reach.name] for reach in found.not_reached),
        tuple(_named(found.independent, counted)),
        tuple(_named(found.unknown, counted)),
    )  # fmt: skip


def boost_for(car: MarginCar) -> Callable[[float], Band | None]:
    """The boost that a power takes: charge mass grows with pressure over temperature, and
    power with charge mass. Below the present power, and without a compressor, as it is."""
    run, present = car.subject.run, charge_demand.boost(car).band
    assert run is not None
    if present is None or not car.boosted or present.p50 <= 0:
        return lambda power: None
    start, density = run.power.p50, _density(car)
    base = density(present.p50)

    @cache
    def boost(power: float) -> Band:
        wanted = base * power / start
        low, high = present.p50, _HIGHEST_BOOST
        if power <= start:
            return present
        for _ in range(50):
            middle = (low + high) / 2
            low, high = (middle, high) if density(middle) < wanted else (low, middle)
        return present * (low / present.p50)

    return boost


def _density(car: MarginCar) -> Callable[[float], float]:
    """Manifold pressure over charge temperature by boost, at the middle of what is known."""
    inlet = charge_demand.inlet(car).p50 or 298.0
    eta = charge_demand.compressor_efficiency(car).p50 or 0.7
    effect = rise = 0.0
    if car.cooled:
        effect = charge_demand.cooler_effectiveness(car).p50 or 0.0
        rise = charge_demand.coolant_rise(car).p50 or 0.0

    def density(boost: float) -> float:
        hot = charge.compressor_temperature(inlet, (ATM + boost) / ATM, eta)
        return (ATM + boost) / charge.cooled_temperature(hot, effect, inlet + rise)

    return density


def _trials(
    subject: Subject, counted: dict[str, Row], boost: Callable[[float], Band | None]
) -> dict[str, Trial]:
    """Each margin as a function of power, by its name; no other is worked out with it."""

    @cache
    def car_at(power: float) -> MarginCar:
        return MarginCar(with_power(subject, power, boost(power)))

    def trial(one: Row) -> Trial:
        rows = margin_file(one.kind.name).rows
        return lambda power: next(
            r.margin for r in worse(rows, car_at(power)) if r.name == one.name
        )

    answering = [n for n, one in counted.items() if one.state is not State.UNKNOWN]
    unknown = [n for n in counted if n not in answering]
    return {name: trial(counted[name]) for name in (*answering, *unknown)}


def _limit(
    reach: Reach,
    counted: dict[str, Row],
    to_wheels: float,
    boost: Callable[[float], Band | None] | None,
) -> ReachedLimit:
    ends = (reach.p10, reach.p50, reach.p90)
    power = Ends(*(None if x is None else x * to_wheels for x in ends))
    at = None
    if boost is not None:
        bands = [None if x is None else boost(x) for x in ends]
        at = Ends(*(None if b is None else b.p50 for b in bands))
    return ReachedLimit(counted[reach.name], power, at)


def _named(found: tuple[Margin, ...], counted: dict[str, Row]) -> list[Row]:
    """The rows of these margins, in the order of the rows."""
    kinds = [(margin.kind.name, margin.demand) for margin in found]
    return [one for one in counted.values() if (one.kind.name, one.margin.demand) in kinds]
