"""Tyre speed: road speed at the limiter in the fastest gear, of the speed symbol's."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from buildlog.analysis.margins.figures.demand_figure import DemandFigure, absent
from buildlog.analysis.margins.figures.margin_car import MarginCar
from buildlog.analysis.margins.figures.margin_rows import Row, kind_of, row
from buildlog.analysis.margins.figures.shaft_demand import road_speed
from buildlog.analysis.margins.figures.tyre_sets import FittedTyres, tyre_sets

KIND = kind_of(__file__)
_NO_CAUTION = 1e-6
_ABOVE_240 = replace(KIND, caution=_NO_CAUTION, caution_source="ZR means above 240 km/h")

_OPEN_ENDED = "ZR"


def rows(car: MarginCar) -> Iterator[Row]:
    """One for each set of tyres."""
    for fitted in tyre_sets(car):
        yield _of_set(road_speed(car), fitted)


def _of_set(speed: DemandFigure, fitted: FittedTyres) -> Row:
    """ZR alone promises more than its speed and no upper end: up to it all is clear, beyond it
    only the symbol beside the load index answers (W or Y)."""
    kind, limit = KIND, fitted.allowed_speed()
    if fitted.symbol == _OPEN_ENDED and limit.band is not None:
        kind = _ABOVE_240
        if speed.band is not None and speed.band.p90 > limit.band.p50:
            limit = absent(fitted.paths.speed_symbol)
    return row(kind, speed, limit, what=fitted.axle)
