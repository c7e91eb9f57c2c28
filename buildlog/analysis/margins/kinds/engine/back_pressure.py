"""Exhaust back-pressure: at full load against a limit that somebody states."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.margins.figures.demand_figure import derive
from buildlog.analysis.margins.figures.margin_car import MarginCar, limit_table
from buildlog.analysis.margins.figures.margin_rows import Row, kind_of, row
from buildlog.analysis.margins.figures.shaft_demand import wheel_power
from buildlog.physics.gases import pipe_flow
from buildlog.records.checked_paths import field

KIND = kind_of(__file__)

_MEASURED, _AT_POWER = field("exhaust.back_pressure"), field("exhaust.back_pressure_at_power")
_LIMIT = limit_table("exhaust", "pressure")


def rows(car: MarginCar) -> Iterator[Row]:
    """One, at the present power, from the one at which it was measured."""
    if car.combustion:
        measured = car.given(_MEASURED), car.given(_AT_POWER)
        pressure = derive(pipe_flow.scaled, *measured, wheel_power(car))
        yield row(KIND, pressure, car.general_limit(_LIMIT))
