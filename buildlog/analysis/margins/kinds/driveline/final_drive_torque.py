"""Final drive torque: at the pinion in first gear, no more than the tyres let it see."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.margins.figures.margin_car import MarginCar, stated_limit
from buildlog.analysis.margins.figures.margin_rows import Row, kind_of, row
from buildlog.analysis.margins.figures.shaft_demand import (
    driven_axle,
    shaft_torque,
    without_grip,
)

KIND = kind_of(__file__)

_RATED = stated_limit("final_drive.rated_torque", "torque")
_AXLE_RATED = {
    axle: stated_limit(f"final_drive.{axle}.rated_torque", "torque") for axle in ("front", "rear")
}


def rows(car: MarginCar) -> Iterator[Row]:
    """One, of the driven axle."""
    if car.combustion:
        own = car.limit(_AXLE_RATED[driven_axle(car)])
        limit = car.limit(_RATED) if own.unstated else own
        yield row(KIND, shaft_torque(car), limit, note=without_grip(car))
