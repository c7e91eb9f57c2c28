"""Boost against relief: how far boost is from where the relief valve opens."""

from __future__ import annotations

from buildlog.analysis.margins.figures.charge_demand import boost
from buildlog.analysis.margins.figures.margin_car import burns_charged, stated_limit
from buildlog.analysis.margins.figures.margin_rows import Example, Kind, Rule, one_row
from buildlog.physics.numerics.constants import PSI

KIND = Kind(
    name="boost against relief",
    rule=Rule.AT_MOST,
    unit="Pa",
    caution=1.0 * PSI,
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


rows = one_row(KIND, boost, stated_limit("induction.boost.relief_gauge"), burns_charged)
