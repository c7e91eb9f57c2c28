"""Exhaust back-pressure: at full load against a limit that somebody states."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.margins.figures.demand_figure import derive
from buildlog.analysis.margins.figures.margin_car import MarginCar, limit_table
from buildlog.analysis.margins.figures.margin_rows import Example, Kind, Row, Rule, at_wheels, row
from buildlog.analysis.margins.figures.shaft_demand import wheel_power
from buildlog.physics.gases import pipe_flow
from buildlog.records.checked_paths import field

KIND = Kind(
    name="exhaust back-pressure",
    rule=Rule.AT_MOST,
    unit="Pa",
    caution=5e3,
    meaning="Pressure in the exhaust at full load against a limit that somebody states; it grows "
    "with the square of flow.",
    formula="known back-pressure times resistance ratio times flow squared",
    source="turbulent loss law (from memory)",
    typical="10 to 40 kPa behind the headers of a road car (common practice)",
    says_not="what pulsation and a catalyst that is clogging do",
    power_driven=True,
)
EXAMPLE = Example(
    by_hand="14 kPa x (180/150)^2 = 20.16 kPa, and at most 40 kPa",
    demand=20.16e3,
    capacity=40e3,
    car={
        "exhaust.back_pressure": "14 kPa", "exhaust.back_pressure_at_power": "150 kW",
        "exhaust.limit.value": "40 kPa",
    },
    run=at_wheels(180e3, 600.0),
)  # fmt: skip

_MEASURED, _AT_POWER = field("exhaust.back_pressure"), field("exhaust.back_pressure_at_power")
_LIMIT = limit_table("exhaust", "pressure")


def rows(car: MarginCar) -> Iterator[Row]:
    """One, at the present power, from the one at which it was measured."""
    if car.combustion:
        measured = car.given(_MEASURED), car.given(_AT_POWER)
        pressure = derive(pipe_flow.scaled, *measured, wheel_power(car))
        yield row(KIND, pressure, car.general_limit(_LIMIT))
