"""Rotating assembly: crank power or torque of what crankshaft, rods and pistons are rated for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from buildlog.analysis.margins.figures.margin_car import MarginCar, stated_limit
from buildlog.analysis.margins.figures.margin_rows import Example, Kind, Row, at_crank, row
from buildlog.analysis.margins.figures.shaft_demand import crank_power, crank_torque
from buildlog.records.checked_paths import value_at
from buildlog.units import Quantity

KIND = Kind(
    name="rotating assembly",
    unit="W",
    caution=0.10,
    meaning="Crank power or torque against what the supplier rates crankshaft, rods and pistons "
    "for.",
    formula="crank power of the supplier's rating",
    source="definition",
    typical="10 % in hand (common practice)",
    says_not="what detonation or a lean mixture does at any power",
    power_driven=True,
)
EXAMPLE = Example(
    by_hand="200 kW at the crank, of 240 kW",
    demand=200e3,
    capacity=240e3,
    car={"engine.rotating_assembly_limit": "240 kW"},
    run=at_crank(200e3, 600.0),
)

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
