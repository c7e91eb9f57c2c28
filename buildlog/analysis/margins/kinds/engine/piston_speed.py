"""Mean piston speed: at the limiter, against the supplier's limit or what is usual."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.margins.figures.demand_figure import DemandFigure, Source, derive
from buildlog.analysis.margins.figures.margin_car import MarginCar, stated_limit
from buildlog.analysis.margins.figures.margin_rows import Row, kind_of, row
from buildlog.analysis.margins.figures.shaft_demand import limiter
from buildlog.physics.engines import crank
from buildlog.physics.numerics.band import Band
from buildlog.records.checked_paths import field

KIND = kind_of(__file__)

USUAL_LIMIT = Band(20.0, 22.5, 25.0)
"""[m/s] usual upper mean piston speed: sporty road engines 20 to 25 (trade pages).
155 unboosted gasoline cars of 1985 at peak power: 9.2 to 17.6 (imports-85, computed).
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
