"""Boost against limit: how far boost is from where the calibration cuts."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.margins.figures.charge_demand import boost
from buildlog.analysis.margins.figures.margin_car import MarginCar
from buildlog.analysis.margins.figures.margin_rows import Row, row
from buildlog.analysis.margins.figures.stated_limit import stated_limit
from buildlog.analysis.margins.figures.worked_example import Example
from buildlog.physics.numerics.constants import PSI
from buildlog.physics.parts.margin import PRACTICE, Kind, Rule

KIND = Kind(
    name="boost against limit",
    rule=Rule.AT_MOST,
    unit="Pa",
    caution=1.0 * PSI,
    caution_source=PRACTICE,
    meaning="How far boost is from the pressure at which the calibration cuts.",
    formula="boost limit of the calibration less boost",
    source="definition",
    typical="1.5 to 3 psi (common practice)",
    says_not="what the calibration does when the limit is reached",
    power_driven=True,
)
EXAMPLE = Example(
    by_hand="55 kPa, and it cuts at 80 kPa",
    demand=55e3,
    capacity=80e3,
    car={
        "induction.kind": "turbocharger", "induction.boost.target_gauge": "55 kPa",
        "calibration.boost_limit_gauge": "80 kPa",
    },
)  # fmt: skip

_LIMIT = stated_limit("calibration.boost_limit_gauge")


def rows(car: MarginCar) -> Iterator[Row]:
    """One, where something compresses the charge."""
    if car.boosted and car.combustion:
        yield row(KIND, boost(car), car.limit(_LIMIT))
