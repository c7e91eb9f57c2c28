"""Mean piston speed: at the limiter, against the supplier's limit or what is usual."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.margins.figures.demand_figure import DemandFigure, Source, derive
from buildlog.analysis.margins.figures.margin_car import MarginCar, stated_limit
from buildlog.analysis.margins.figures.margin_rows import Example, Kind, Row, row
from buildlog.analysis.margins.figures.shaft_demand import limiter
from buildlog.physics.engines import crank
from buildlog.physics.numerics.band import Band
from buildlog.records.checked_paths import field

KIND = Kind(
    name="mean piston speed",
    unit="m/s",
    caution=0.10,
    meaning="Average speed of the pistons at the limiter: the usual measure of how hard "
    "revolutions are on rods and pistons.",
    formula="2 S n at the limiter",
    source="Heywood, Internal Combustion Engine Fundamentals, eq. 2.9 (from memory)",
    typical="14 to 20 m/s in road cars at the limiter; 155 petrol cars of 1985 at peak power: "
    "9.2 to 17.6 (open data set imports-85, computed)",
    says_not="what rods, pistons and bearings of this engine bear",
    shown="m/s",
)
EXAMPLE = Example(
    by_hand="2 x 80 mm x 100 turns a second = 16 m/s, of 21 m/s",
    demand=16.0,
    capacity=21.0,
    car={
        "engine.stroke": "80 mm", "engine.mean_piston_speed_limit": "21 m/s",
        "calibration.rev_limit": "6000 rpm",
    },
)  # fmt: skip

USUAL_LIMIT = Band(20.0, 22.5, 25.0)
"""[m/s] usual upper mean piston speed: sporty road engines 20 to 25 (trade pages, opened, no
authority). 155 unboosted petrol cars of 1985 at peak power: 9.2 to 17.6 (imports-85, computed).
It belongs to no part; as a band, it is clear only at its worse end."""

_STROKE = field("engine.stroke")
_LIMIT = stated_limit("engine.mean_piston_speed_limit", "speed")


def rows(car: MarginCar) -> Iterator[Row]:
    """One, where there are pistons that go up and down."""
    engine = car.configuration.engine
    if car.combustion and not (engine is not None and engine.layout == "rotary"):
        speed = derive(crank.mean_piston_speed, car.given(_STROKE), limiter(car))
        yield row(KIND, speed, _limit(car))


def _limit(car: MarginCar) -> DemandFigure:
    """The supplier's; else what is usual in the trade, and said to be so."""
    stated = car.limit(_LIMIT)
    words = Source("usual upper mean piston speed of road engines (common practice)")
    return DemandFigure(USUAL_LIMIT, "typical", (words,)) if stated.unstated else stated
