"""Compressor flow: the air of full load, corrected, of the most that one compressor passes."""

from __future__ import annotations

from buildlog.analysis.margins.figures.charge_demand import inlet
from buildlog.analysis.margins.figures.demand_figure import DemandFigure, derive, exact
from buildlog.analysis.margins.figures.fuel_demand import air_flow
from buildlog.analysis.margins.figures.margin_car import MarginCar, stated_limit
from buildlog.analysis.margins.figures.margin_rows import kind_of, one_row
from buildlog.physics.gases import charge
from buildlog.physics.numerics.constants import ATM
from buildlog.records.checked_paths import field

KIND = kind_of(__file__)
_LIMIT = stated_limit("induction.compressor.flow_limit", "mass_flow")
_COUNT = field("induction.compressor.count")


def _demand(car: MarginCar) -> DemandFigure:
    """What each of the compressors draws [kg/s]; one, where no count is stated."""
    count = car.given(_COUNT)
    return derive(
        lambda air, inlet, count: charge.corrected_flow(air / count, inlet, ATM),
        air_flow(car), inlet(car), count if count.band is not None else exact(1.0),
    )  # fmt: skip


rows = one_row(KIND, _demand, _LIMIT, lambda car: car.boosted and car.spark_ignition)
