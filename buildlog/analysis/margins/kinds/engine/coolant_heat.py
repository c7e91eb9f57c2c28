"""Heat to coolant: what full load puts into it of what the radiator is stated to carry off."""

from __future__ import annotations

from buildlog.analysis.margins.figures.demand_figure import DemandFigure, derive
from buildlog.analysis.margins.figures.fuel_demand import fuel_flow, of_tank
from buildlog.analysis.margins.figures.margin_car import MarginCar, burns_by_spark, stated_limit
from buildlog.analysis.margins.figures.margin_rows import kind_of, one_row
from buildlog.physics.gases import heat

KIND = kind_of(__file__)


def _demand(car: MarginCar) -> DemandFigure:
    heating = of_tank(car, lambda fuel: fuel.lower_heating_value)
    return derive(heat.to_coolant, fuel_flow(car), heating, car.prior("coolant_heat_share"))


rows = one_row(KIND, _demand, stated_limit("cooling.rated_heat"), burns_by_spark)
