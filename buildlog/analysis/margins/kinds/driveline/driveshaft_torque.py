"""Driveshaft torque: behind the gearbox in first gear, of what the shaft is rated for."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.margins.figures.margin_car import MarginCar, stated_limit
from buildlog.analysis.margins.figures.margin_rows import Row, kind_of, row
from buildlog.analysis.margins.figures.shaft_demand import (
    has_driveshaft,
    shaft_torque,
    without_grip,
)

KIND = kind_of(__file__)


_RATED = stated_limit("driveshaft.rated_torque", "torque")


def rows(car: MarginCar) -> Iterator[Row]:
    """One, where a shaft runs behind the gearbox."""
    if has_driveshaft(car):
        yield row(KIND, shaft_torque(car), car.limit(_RATED), note=without_grip(car))
