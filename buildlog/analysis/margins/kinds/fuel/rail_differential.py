"""Rail-to-manifold differential: what pushes fuel through the injectors, and the least of it."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.margins.figures.margin_car import MarginCar
from buildlog.analysis.margins.figures.margin_rows import Row, row
from buildlog.analysis.margins.figures.rail_pressure import differential
from buildlog.analysis.margins.figures.stated_limit import stated_limit
from buildlog.analysis.margins.figures.worked_example import Example
from buildlog.physics.parts.margin import PRACTICE, Kind, Rule

KIND = Kind(
    name="rail-to-manifold differential",
    rule=Rule.AT_LEAST,
    unit="Pa",
    caution=50e3,
    caution_source=PRACTICE,
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

_LEAST = stated_limit("fuel.injectors.least_differential")


def rows(car: MarginCar) -> Iterator[Row]:
    """One; spark ignition only."""
    if car.spark_ignition:
        yield row(KIND, differential(car), car.limit(_LEAST))
