"""Injector duty: the fuel that full load needs of what the injectors pass when held open."""

from __future__ import annotations

from buildlog.analysis.margins.figures.demand_figure import DemandFigure, derive
from buildlog.analysis.margins.figures.fuel_demand import injected_flow, of_tank
from buildlog.analysis.margins.figures.margin_car import MarginCar, injects_by_spark
from buildlog.analysis.margins.figures.margin_rows import kind_of, one_row
from buildlog.analysis.margins.figures.rail_pressure import differential, volume_flow
from buildlog.physics.parts import injectors
from buildlog.records.checked_paths import field

KIND = kind_of(__file__)

_COUNT = field("fuel.injectors.count")
_TEST_DENSITY = field("fuel.injectors.test_density")
_FLOW = field("fuel.injectors.flow")
_RATED_PRESSURE = field("fuel.injectors.rated_pressure")


def _capacity(car: MarginCar) -> DemandFigure:
    """What all of them pass at the pressure they see [kg/s]."""
    return derive(
        lambda count, flow, rated, across, density: (
            count * injectors.mass_flow(flow, rated, across, density)
        ),
        car.given(_COUNT), volume_flow(car, _FLOW, _TEST_DENSITY), car.given(_RATED_PRESSURE),
        differential(car), of_tank(car, lambda fuel: fuel.density),
    )  # fmt: skip


rows = one_row(KIND, injected_flow, _capacity, injects_by_spark)  # of all injectors together
