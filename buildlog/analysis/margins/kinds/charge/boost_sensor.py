"""Boost against sensor range: manifold pressure of the most that the sensor can show."""

from __future__ import annotations

from buildlog.analysis.margins.figures.charge_demand import manifold
from buildlog.analysis.margins.figures.margin_car import burns_charged, stated_limit
from buildlog.analysis.margins.figures.margin_rows import Example, Kind, one_row

KIND = Kind(
    name="boost against sensor range",
    unit="Pa",
    caution=0.05,
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


rows = one_row(KIND, manifold, stated_limit("intake.pressure_sensor.range_absolute"), burns_charged)
