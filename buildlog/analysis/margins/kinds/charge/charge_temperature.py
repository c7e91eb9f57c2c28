"""Charge temperature: the air as it enters the engine, behind compressor and cooler."""

from __future__ import annotations

from buildlog.analysis.margins.figures.charge_demand import charge_temperature
from buildlog.analysis.margins.figures.demand_figure import DemandFigure
from buildlog.analysis.margins.figures.margin_car import MarginCar, burns_charged, limit_table
from buildlog.analysis.margins.figures.margin_rows import Example, Kind, Rule, one_row

KIND = Kind(
    name="charge temperature",
    rule=Rule.AT_MOST,
    unit="K",
    caution=10.0,
    meaning="Temperature of the air as it enters the engine, behind compressor and cooler.",
    formula="T2 - effectiveness (T2 - Tc), T2 by pressure ratio and efficiency",
    source="NASA Glenn, Compressor Thermodynamics (opened)",
    typical="10 to 40 K above the day's air with a cooler, 50 K and more without (common practice)",
    says_not="what a cooler does once it is soaked with heat",
    power_driven=True,
)
EXAMPLE = Example(
    by_hand="296.7 K x [1 + (1.5^0.2857 - 1)/0.70] = 348.8 K, and at most 90 degC = 363.15 K",
    demand=348.8,
    capacity=363.15,
    car={
        "induction.kind": "turbocharger", "induction.compressor.efficiency": 0.70,
        "induction.boost.target_gauge": "50.66 kPa", "induction.limit.value": "90 degC",
    },
)  # fmt: skip

_OF_COOLER = limit_table("induction.charge_cooler", "temperature")
_OF_INDUCTION = limit_table("induction", "temperature")


def _limit(car: MarginCar) -> DemandFigure:
    """Whatever the cooler or the induction states."""
    stated = car.general_limit(_OF_COOLER)
    return car.general_limit(_OF_INDUCTION) if stated.unstated else stated


rows = one_row(KIND, charge_temperature, _limit, burns_charged)
