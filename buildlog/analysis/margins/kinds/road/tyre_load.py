"""Tyre load: what an axle carries of what its tyres may carry at the highest speed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from buildlog.analysis.margins.figures.demand_figure import DemandFigure, absent, derive, exact
from buildlog.analysis.margins.figures.margin_car import MarginCar
from buildlog.analysis.margins.figures.margin_rows import Row, kind_of, row
from buildlog.analysis.margins.figures.shaft_demand import driven_wheels, road_speed
from buildlog.analysis.margins.figures.tyre_sets import FittedTyres, tyre_sets
from buildlog.physics.parts import traction
from buildlog.records.checked_paths import field

KIND = kind_of(__file__)

_MASS, _DRIVEN_LOAD = field("chassis.mass"), field("chassis.driven_axle_load")
_AXLE_LOAD = {axle: field(f"chassis.{axle}_axle_load") for axle in ("front", "rear")}


def rows(car: MarginCar) -> Iterator[Row]:
    """One for each set of tyres; the heavier axle counts where both carry the same tyre, and
    then both must be known."""
    for fitted in tyre_sets(car):
        if fitted.axle is None:
            mass = derive(max, _axle_mass(car, "front"), _axle_mass(car, "rear"))
        else:
            mass = _axle_mass(car, fitted.axle)
        yield row(KIND, mass, _capacity(car, fitted), what=fitted.axle)


def _capacity(car: MarginCar, fitted: FittedTyres) -> DemandFigure:
    """What the tyres of an axle may carry at the highest speed [kg]."""
    index, path, speed = fitted.load_index, fitted.paths.load_index, road_speed(car)
    if index is None:
        return absent(path)
    count = 1 if car.configuration.car.vehicle == "motorcycle" else 2
    top = speed if speed.band is not None else exact(0.0)
    words = f"load index {index}, table of UN Regulation No. 30 (from memory)"
    figure = derive(
        lambda number, v: traction.axle_capacity(int(number), count, fitted.symbol, v),
        exact(float(index), words, path=path), replace(top, sources=(), paths=()),
    )  # fmt: skip
    return replace(figure, basis="declared") if figure.band is not None else figure


def _axle_mass(car: MarginCar, axle: str) -> DemandFigure:
    """Its own load, else that of the driven axle, else what this leaves of the whole car [kg]."""
    own, driven = car.given(_AXLE_LOAD[axle]), driven_wheels(car)
    if own.band is not None or driven not in _AXLE_LOAD:
        return own
    load = car.given(_DRIVEN_LOAD)
    if driven != axle:
        load = derive(lambda whole, part: whole - part, car.given(_MASS), load)
    return load if load.band is not None else own
