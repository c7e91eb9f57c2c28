"""Charge cooler heat: what the cooler must take out of what it is stated to carry off."""

from __future__ import annotations

from buildlog.analysis.margins.figures import charge_demand
from buildlog.analysis.margins.figures.demand_figure import DemandFigure, derive
from buildlog.analysis.margins.figures.fuel_demand import air_flow
from buildlog.analysis.margins.figures.margin_car import MarginCar, stated_limit
from buildlog.analysis.margins.figures.margin_rows import Example, Kind, at_crank, one_row
from buildlog.physics.gases import charge
from buildlog.physics.gases.heat import from_charge

KIND = Kind(
    name="charge cooler heat",
    unit="W",
    caution=0.15,
    meaning="Heat that the charge cooler must take out against what it is stated to carry off.",
    formula="m cp (T2 - T3)",
    source="first law",
    typical="20 % in hand (common practice)",
    says_not="what a cooler does once it is soaked with heat",
    power_driven=True,
)
EXAMPLE = Example(
    by_hand="348.8 K behind the compressor, 308.3 K beside the cooler; 251.6 g/s x 1005 J/(kg K) x "
    "0.70 x 40.45 K = 7160 W, of 16 kW",
    demand=7160.0,
    capacity=16e3,
    car={
        "fuel.kind": "gasoline", "fuel.ethanol_content": "0 percent",
        "induction.kind": "centrifugal", "induction.compressor.efficiency": 0.70,
        "induction.charge_cooler.effectiveness": 0.70,
        "induction.charge_cooler.pressure_drop": "0 kPa",
        "induction.charge_cooler.rated_heat": "16 kW",
    },
    run=at_crank(200e3, 600.0, boost=50.66e3),
)  # fmt: skip


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
