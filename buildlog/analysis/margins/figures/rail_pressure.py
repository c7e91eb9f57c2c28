"""Pressures at the fuel rail, and fuel flows as their makers state them."""

from __future__ import annotations

from buildlog.analysis.margins.figures.charge_demand import boost
from buildlog.analysis.margins.figures.demand_figure import DemandFigure, absent, derive, exact
from buildlog.analysis.margins.figures.margin_car import MarginCar, once_a_car
from buildlog.physics.gases.fuels import FUELS
from buildlog.physics.parts import injectors, pump
from buildlog.records.checked_paths import FieldPath, field, value_at
from buildlog.units import Quantity

_SYSTEM_PRESSURE = field("fuel.injectors.system_pressure")
_CARBURETTORS = field("fuel.carburettors.fuel_pressure")
_REFERENCED = field("fuel.injectors.referenced")


@once_a_car
def differential(car: MarginCar) -> DemandFigure:
    """What pushes fuel through the injectors: rail less manifold pressure [Pa]."""
    return derive(
        lambda system, boost, follows: injectors.differential_pressure(system, boost, follows > 0),
        car.given(_SYSTEM_PRESSURE), boost(car), _referenced(car),
    )  # fmt: skip


@once_a_car
def rail_pressure(car: MarginCar) -> DemandFigure:
    """What the pump works against [Pa gauge]: the rail, or the carburettors' needle valves."""
    if car.carburettors:
        return car.given(_CARBURETTORS)
    return derive(
        lambda system, boost, follows: pump.rail_gauge(system, boost, follows > 0),
        car.given(_SYSTEM_PRESSURE), boost(car), _referenced(car),
    )  # fmt: skip


def _referenced(car: MarginCar) -> DemandFigure:
    """1 where rail pressure follows the manifold; without boost it makes no difference."""
    value = value_at(car.configuration, _REFERENCED)
    if value is None and car.boosted:
        return absent(_REFERENCED)
    return exact(1.0 if value is None or value else 0.0)


def volume_flow(car: MarginCar, path: FieldPath, stated: FieldPath | None = None) -> DemandFigure:
    """A flow stated by volume, or by mass of a fluid whose density the field `stated` holds, else
    of one as dense as gasoline [m^3/s]: what it is turned with stands among its sources."""
    value = value_at(car.configuration, path)
    if not (isinstance(value, Quantity) and value.dimension == "mass_flow"):
        return derive(lambda flow: flow, car.given(path))
    known = car.given(stated) if stated else absent("density")
    dense = FUELS["gasoline"].density
    words = f"{path} turned into volume with gasoline's {dense:g} kg/m^3"
    words += f", no {stated} being stated" if stated else ""
    density = known if known.band is not None else exact(dense, words, "typical")
    return derive(lambda flow, density: flow / density, car.given(path), density)
