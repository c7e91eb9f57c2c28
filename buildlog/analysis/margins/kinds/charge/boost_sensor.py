"""Boost against sensor range: manifold pressure of the most that the sensor can show."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.margins.figures.charge_demand import manifold
from buildlog.analysis.margins.figures.margin_car import MarginCar
from buildlog.analysis.margins.figures.margin_rows import Row, row
from buildlog.analysis.margins.figures.stated_limit import stated_limit
from buildlog.analysis.margins.figures.worked_example import Example
from buildlog.physics.parts.margin import PRACTICE, Kind, Rule

KIND = Kind(
    name="boost against sensor range",
    rule=Rule.RATIO,
    unit="Pa",
    caution=0.05,
    caution_source=PRACTICE,
    meaning="The highest manifold pressure against the most that the sensor can show; past it "
    "the control is blind.",
    formula="absolute manifold pressure of the sensor's upper end",
    source="definition",
    typical="10 % in hand (common practice)",
    says_not="how accurate the sensor is near its end",
    power_driven=True,
)
EXAMPLE = Example(
    by_hand="101.325 kPa + 55 kPa = 156.3 kPa, of 250 kPa",
    demand=156.3e3,
    capacity=250e3,
    car={
        "induction.kind": "turbocharger", "induction.boost.target_gauge": "55 kPa",
        "intake.pressure_sensor.range_absolute": "250 kPa",
    },
)  # fmt: skip

_LIMIT = stated_limit("intake.pressure_sensor.range_absolute")


def rows(car: MarginCar) -> Iterator[Row]:
    """One, where something compresses the charge."""
    if car.boosted and car.combustion:
        yield row(KIND, manifold(car), car.limit(_LIMIT))
