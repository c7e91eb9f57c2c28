"""Rail-to-manifold differential: what pushes fuel through the injectors, and the least of it."""

from __future__ import annotations

from buildlog.analysis.margins.figures.margin_car import burns_by_spark, stated_limit
from buildlog.analysis.margins.figures.margin_rows import Example, Kind, Rule, one_row
from buildlog.analysis.margins.figures.rail_pressure import differential

KIND = Kind(
    name="rail-to-manifold differential",
    rule=Rule.AT_LEAST,
    unit="Pa",
    caution=50e3,
    meaning="The pressure that pushes fuel through the injectors; boost eats into it where the "
    "regulator does not feel the manifold.",
    formula="rail setting, less boost if the regulator does not feel the manifold",
    source="definition",
    typical="250 to 450 kPa on port injection (common practice)",
    says_not="whether the pump holds the rail at its setting; see fuel pump",
    power_driven=True,
)
EXAMPLE = Example(
    by_hand="300 kPa - 50 kPa = 250 kPa, and at least 220 kPa",
    demand=250e3,
    capacity=220e3,
    car={
        "fuel.injectors.system_pressure": "300 kPa", "fuel.injectors.referenced": False,
        "fuel.injectors.least_differential": "220 kPa",
        "induction.kind": "turbocharger", "induction.boost.target_gauge": "50 kPa",
    },
)  # fmt: skip


rows = one_row(
    KIND, differential, stated_limit("fuel.injectors.least_differential"), burns_by_spark
)
