"""Boost against limit: how far boost is from where the calibration cuts."""

from __future__ import annotations

from buildlog.analysis.margins.figures.charge_demand import boost
from buildlog.analysis.margins.figures.margin_car import burns_charged, stated_limit
from buildlog.analysis.margins.figures.margin_rows import Example, Kind, Rule, one_row
from buildlog.physics.numerics.constants import PSI

KIND = Kind(
    name="boost against limit",
    rule=Rule.AT_MOST,
    unit="Pa",
    caution=1.0 * PSI,
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


rows = one_row(KIND, boost, stated_limit("calibration.boost_limit_gauge"), burns_charged)
