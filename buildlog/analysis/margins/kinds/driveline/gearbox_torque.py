"""Gearbox torque: the highest torque at its input of what the gearbox is rated for."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.margins.figures.margin_car import MarginCar, stated_limit
from buildlog.analysis.margins.figures.margin_rows import Row, kind_of, row
from buildlog.analysis.margins.figures.shaft_demand import behind_primary, crank_torque
from buildlog.records.checked_paths import field

KIND = kind_of(__file__)

_RATED = stated_limit("gearbox.rated_torque", "torque")
_MOTOR_TORQUE = field("motor.rated_torque")


def rows(car: MarginCar) -> Iterator[Row]:
    """One; an electric car need not have a gearbox."""
    if car.combustion or car.configuration.gearbox is not None:
        torque = crank_torque(car) if car.combustion else car.given(_MOTOR_TORQUE)
        yield row(KIND, behind_primary(car, torque), car.limit(_RATED))
