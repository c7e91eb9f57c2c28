"""Fuel pump: the fuel that full load needs of what the pump passes against the rail."""

from __future__ import annotations

from buildlog.analysis.margins.figures.demand_figure import DemandFigure, derive
from buildlog.analysis.margins.figures.fuel_demand import fuel_flow, of_tank
from buildlog.analysis.margins.figures.margin_car import MarginCar, burns_by_spark
from buildlog.analysis.margins.figures.margin_rows import kind_of, one_row
from buildlog.analysis.margins.figures.rail_pressure import rail_pressure, volume_flow
from buildlog.physics.parts import pump
from buildlog.records.checked_paths import field

KIND = kind_of(__file__)

_COUNT = field("fuel.pump.count")
_FLOW, _AT_PRESSURE = field("fuel.pump.flow"), field("fuel.pump.at_pressure")
_SECOND_FLOW, _SECOND_AT = field("fuel.pump.second_flow"), field("fuel.pump.second_at_pressure")


def _demand(car: MarginCar) -> DemandFigure:
    density = of_tank(car, lambda fuel: fuel.density)
    return derive(lambda mass, density: mass / density, fuel_flow(car), density)


def _capacity(car: MarginCar) -> DemandFigure:
    """On the line through two stated points, else from one and the usual loss [m^3/s]."""
    count, rail = car.given(_COUNT), rail_pressure(car)
    flow, at = volume_flow(car, _FLOW), car.given(_AT_PRESSURE)
    second, second_at = volume_flow(car, _SECOND_FLOW), car.given(_SECOND_AT)
    if second.band is None or second_at.band is None:
        return derive(
            lambda n, q, p, k, rail: (
                n * pump.flow_from_slope(pump.PumpPoint(q, p), k / 100e3, rail)
            ),
            count, flow, at, car.prior("pump_flow_loss"), rail,
        )  # fmt: skip
    return derive(
        lambda n, q, p, q2, p2, rail: (
            n * pump.flow_from_two(pump.PumpPoint(q, p), pump.PumpPoint(q2, p2), rail)
        ),
        count, flow, at, second, second_at, rail,
    )  # fmt: skip


rows = one_row(KIND, _demand, _capacity, burns_by_spark)  # of all pumps side by side
