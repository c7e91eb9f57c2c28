"""Driveshaft stress: shear in the tube in first gear, of what its maker allows."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.margins.figures.demand_figure import derive
from buildlog.analysis.margins.figures.margin_car import MarginCar, stated_limit
from buildlog.analysis.margins.figures.margin_rows import Row, kind_of, row
from buildlog.analysis.margins.figures.shaft_demand import (
    has_driveshaft,
    shaft_torque,
    without_grip,
)
from buildlog.physics.parts import driveshaft
from buildlog.records.checked_paths import field

KIND = kind_of(__file__)

_OUTER, _WALL = field("driveshaft.outer_diameter"), field("driveshaft.wall")
_STRENGTH = stated_limit("driveshaft.shear_strength", "pressure")


def rows(car: MarginCar) -> Iterator[Row]:
    """One, where a shaft runs behind the gearbox."""
    if has_driveshaft(car):
        tube = car.given(_OUTER), car.given(_WALL)
        stress = derive(driveshaft.shear_stress, shaft_torque(car), *tube)
        yield row(KIND, stress, car.limit(_STRENGTH), note=without_grip(car))
