"""Heat to coolant: what full load puts into it of what the radiator is stated to carry off."""

from __future__ import annotations

from buildlog.analysis.margins.figures.demand_figure import DemandFigure, derive
from buildlog.analysis.margins.figures.fuel_demand import fuel_flow, tank
from buildlog.analysis.margins.figures.margin_car import MarginCar, burns_by_spark, stated_limit
from buildlog.analysis.margins.figures.margin_rows import Example, Kind, at_crank, one_row
from buildlog.physics.gases import heat

KIND = Kind(
    name="heat to coolant",
    unit="W",
    caution=0.15,
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


def _demand(car: MarginCar) -> DemandFigure:
    liquid, known = tank(car)
    heating = liquid.lower_heating_value if liquid else 1.0
    return derive(
        lambda flow, share, _: heat.to_coolant(flow, heating, share),
        fuel_flow(car), car.prior("coolant_heat_share"), known,
    )  # fmt: skip


rows = one_row(KIND, _demand, stated_limit("cooling.rated_heat"), burns_by_spark)
