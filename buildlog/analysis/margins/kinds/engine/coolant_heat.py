"""Heat to coolant: what full load puts into it of what the radiator is stated to carry off."""

from __future__ import annotations

from buildlog.analysis.margins.figures.demand_figure import DemandFigure, derive
from buildlog.analysis.margins.figures.fuel_demand import fuel_flow, tank
from buildlog.analysis.margins.figures.margin_car import MarginCar, burns_by_spark, stated_limit
from buildlog.analysis.margins.figures.margin_rows import kind_of, one_row
from buildlog.physics.gases import heat

KIND = kind_of(__file__)


def _demand(car: MarginCar) -> DemandFigure:
    liquid, known = tank(car)
    heating = liquid.lower_heating_value if liquid else 1.0
    return derive(
        lambda flow, share, _: heat.to_coolant(flow, heating, share),
        fuel_flow(car), car.prior("coolant_heat_share"), known,
    )  # fmt: skip


rows = one_row(KIND, _demand, stated_limit("cooling.rated_heat"), burns_by_spark)
