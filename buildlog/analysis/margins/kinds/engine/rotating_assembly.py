"""Rotating assembly: crank power or torque of what crankshaft, rods and pistons are rated for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from buildlog.analysis.margins.figures.margin_car import MarginCar, stated_limit
from buildlog.analysis.margins.figures.margin_rows import Row, kind_of, row
from buildlog.analysis.margins.figures.shaft_demand import crank_power, crank_torque
from buildlog.records.checked_paths import value_at
from buildlog.units import Quantity

KIND = kind_of(__file__)

_RATED = stated_limit("engine.rotating_assembly_limit")


def rows(car: MarginCar) -> Iterator[Row]:
    """One; the supplier may rate it by power or by torque."""
    if not car.combustion:
        return
    rated = value_at(car.configuration, _RATED.path)
    if isinstance(rated, Quantity) and rated.dimension == "torque":
        yield row(replace(KIND, unit="N*m"), crank_torque(car), car.limit(_RATED))
    else:
        yield row(KIND, crank_power(car), car.limit(_RATED))
