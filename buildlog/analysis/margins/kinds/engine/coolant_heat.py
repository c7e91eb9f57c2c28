"""Heat to coolant: what full load puts into it of what the radiator is stated to carry off."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.margins.figures.demand_figure import DemandFigure, derive
from buildlog.analysis.margins.figures.fuel_demand import fuel_flow, tank
from buildlog.analysis.margins.figures.margin_car import MarginCar
from buildlog.analysis.margins.figures.margin_rows import Row, row
from buildlog.analysis.margins.figures.stated_limit import stated_limit
from buildlog.analysis.margins.figures.worked_example import Example, at_crank
from buildlog.physics.gases import heat
from buildlog.physics.parts.margin import PRACTICE, Kind, Rule

KIND = Kind(
    name="heat to coolant",
    rule=Rule.RATIO,
    unit="W",
    caution=0.15,
    caution_source=PRACTICE,
    meaning="Heat that full load puts into the coolant against what the radiator is stated to "
    "carry off.",
    formula="fuel flow times heating value times share",
    source="energy balance",
    typical="15 % in hand; a pull is too short to show a lack (common practice)",
    says_not="that the radiator gets its air, or how long the load is held",
    power_driven=True,
)
EXAMPLE = Example(
    by_hand="100 kW/0.2713 = 368.6 kW of fuel, of it 22.26 % = 82.04 kW, of 130 kW",
    demand=82.04e3,
    capacity=130e3,
    car={
        "fuel.kind": "gasoline", "fuel.ethanol_content": "0 percent",
        "cooling.rated_heat": "130 kW",
    },
    run=at_crank(100e3, 600.0),
)  # fmt: skip

_RATED = stated_limit("cooling.rated_heat")


def rows(car: MarginCar) -> Iterator[Row]:
    """One; spark ignition only."""
    if car.spark_ignition:
        yield row(KIND, _demand(car), car.limit(_RATED))


def _demand(car: MarginCar) -> DemandFigure:
    liquid, known = tank(car)
    heating = liquid.lower_heating_value if liquid else 1.0
    return derive(
        lambda flow, share, _: heat.to_coolant(flow, heating, share),
        fuel_flow(car), car.prior("coolant_heat_share"), known,
    )  # fmt: skip
