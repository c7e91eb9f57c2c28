"""Air meter range: the air of full load of the most that the air meter can show."""

from __future__ import annotations

from buildlog.analysis.margins.figures.fuel_demand import air_flow
from buildlog.analysis.margins.figures.margin_car import MarginCar, stated_limit
from buildlog.analysis.margins.figures.margin_rows import kind_of, one_row

KIND = kind_of(__file__)
_LIMIT = stated_limit("intake.air_meter.range_flow", "mass_flow")


def _metered(car: MarginCar) -> bool:
    """Cars whose air meter states a range; one without a meter has none to reach."""
    return car.spark_ignition and car.limit(_LIMIT).band is not None


rows = one_row(KIND, air_flow, _LIMIT, _metered)
