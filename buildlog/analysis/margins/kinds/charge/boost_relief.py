"""Boost against relief: how far boost is from where the relief valve opens."""

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
    name="boost against relief",
    rule=Rule.AT_MOST,
    unit="Pa",
    caution=1.0 * PSI,
    caution_source=PRACTICE,
    meaning="How far boost is from the pressure at which the relief valve opens.",
    formula="relief setting less boost",
    source="definition",
    typical="1 to 2 psi; closer than that the valve begins to leak (common practice)",
    says_not="at what pressure the relief begins to leak",
    power_driven=True,
)
EXAMPLE = Example(
    by_hand="55 kPa, and the relief opens at 75 kPa",
    demand=55e3,
    capacity=75e3,
    car={
        "induction.kind": "turbocharger", "induction.boost.target_gauge": "55 kPa",
        "induction.boost.relief_gauge": "75 kPa",
    },
)  # fmt: skip

_LIMIT = stated_limit("induction.boost.relief_gauge")


def rows(car: MarginCar) -> Iterator[Row]:
    """One, where something compresses the charge."""
    if car.boosted and car.combustion:
        yield row(KIND, boost(car), car.limit(_LIMIT))
