"""Charge temperature: the air as it enters the engine, behind compressor and cooler."""

from __future__ import annotations

from buildlog.analysis.margins.figures.charge_demand import charge_temperature
from buildlog.analysis.margins.figures.demand_figure import DemandFigure
from buildlog.analysis.margins.figures.margin_car import MarginCar, burns_charged, limit_table
from buildlog.analysis.margins.figures.margin_rows import kind_of, one_row

KIND = kind_of(__file__)

_OF_COOLER = limit_table("induction.charge_cooler", "temperature")
_OF_INDUCTION = limit_table("induction", "temperature")


def _limit(car: MarginCar) -> DemandFigure:
    """Whatever the cooler or the induction states."""
    stated = car.general_limit(_OF_COOLER)
    return car.general_limit(_OF_INDUCTION) if stated.unstated else stated


rows = one_row(KIND, charge_temperature, _limit, burns_charged)
