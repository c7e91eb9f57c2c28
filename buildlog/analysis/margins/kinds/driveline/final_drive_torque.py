"""Final drive torque: at the pinion in first gear, no more than the tyres let it see."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.margins.figures.demand_figure import DemandFigure, derive
from buildlog.analysis.margins.figures.margin_car import MarginCar, stated_limit
from buildlog.analysis.margins.figures.margin_rows import Row, kind_of, row
from buildlog.analysis.margins.figures.shaft_demand import (
    driven_axle,
    final_ratio,
    grip_force,
    shaft_torque,
    wheel_radius,
)
from buildlog.physics.parts import traction

KIND = kind_of(__file__)

_RATED = stated_limit("final_drive.rated_torque", "torque")
_AXLE_RATED = {
    axle: stated_limit(f"final_drive.{axle}.rated_torque", "torque") for axle in ("front", "rear")
}


def rows(car: MarginCar) -> Iterator[Row]:
    """One, of the driven axle."""
    if car.combustion:
        own = car.limit(_AXLE_RATED[driven_axle(car)])
        yield row(KIND, _demand(car), car.limit(_RATED) if own.unstated else own)


def _demand(car: MarginCar) -> DemandFigure:
    torque = shaft_torque(car)
    grip = derive(traction.torque_at_grip, grip_force(car), final_ratio(car), wheel_radius(car))
    known = grip.band is not None and torque.band is not None
    return derive(min, torque, grip) if known else torque
