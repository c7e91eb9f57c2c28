"""Final drive torque: at the pinion in first gear, no more than the tyres let it see."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.margins.figures.demand_figure import DemandFigure, derive
from buildlog.analysis.margins.figures.margin_car import MarginCar, stated_limit
from buildlog.analysis.margins.figures.margin_rows import Example, Kind, Row, at_crank, row
from buildlog.analysis.margins.figures.shaft_demand import (
    driven_axle,
    final_ratio,
    grip_force,
    shaft_torque,
    wheel_radius,
)
from buildlog.physics.parts import traction

KIND = Kind(
    name="final drive torque",
    unit="N*m",
    caution=0.20,
    meaning="Torque at the pinion in first gear, no more than the tyres let it see, against its "
    "rating.",
    formula="engine torque times the highest gear ratio, as grip allows, of the rated torque",
    source="power balance",
    typical="20 % in hand (common practice)",
    says_not="what a dropped clutch or wheel hop adds",
    power_driven=True,
)
EXAMPLE = Example(
    by_hand="140 N*m x 3.3 = 462 N*m, of 1600 N*m; the tyres would let it see 0.9 x 700 kg x "
    "9.807 m/s2 x 315.1 mm/3.7 = 526 N*m",
    demand=462.0,
    capacity=1600.0,
    car={
        "chassis.driven_wheels": "rear", "chassis.driven_axle_load": "700 kg",
        "chassis.grip_coefficient": 0.9, "tyres.rolling_circumference": "1.98 m",
        "gearbox.ratios": [3.3, 1.0], "final_drive.ratio": 3.7,
        "final_drive.rated_torque": "1600 N*m",
    },
    run=at_crank(200e3, 600.0, torque=140.0),
)  # fmt: skip

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
