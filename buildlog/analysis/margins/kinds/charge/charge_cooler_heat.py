"""Charge cooler heat: what the cooler must take out of what it is stated to carry off."""

from __future__ import annotations

from buildlog.analysis.margins.figures import charge_demand
from buildlog.analysis.margins.figures.demand_figure import DemandFigure, derive
from buildlog.analysis.margins.figures.fuel_demand import air_flow
from buildlog.analysis.margins.figures.margin_car import MarginCar, stated_limit
from buildlog.analysis.margins.figures.margin_rows import kind_of, one_row
from buildlog.physics.gases import charge
from buildlog.physics.gases.heat import from_charge

KIND = kind_of(__file__)


def _demand(car: MarginCar) -> DemandFigure:
    return derive(
        _heat, air_flow(car), charge_demand.inlet(car), charge_demand.pressure_ratio(car),
        charge_demand.compressor_efficiency(car), charge_demand.cooler_effectiveness(car),
        charge_demand.coolant_rise(car),
    )  # fmt: skip


def _heat(
    air: float, inlet: float, ratio: float, efficiency: float, effect: float, rise: float
) -> float:
    hot = charge.compressor_temperature(inlet, ratio, efficiency)
    return from_charge(air, hot, charge.cooled_temperature(hot, effect, inlet + rise))


# Where a cooler is fitted and the air can be told from the fuel.
rows = one_row(
    KIND, _demand, stated_limit("induction.charge_cooler.rated_heat", "power"),
    lambda car: car.boosted and car.cooled and car.spark_ignition,
)  # fmt: skip
