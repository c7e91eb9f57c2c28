"""Tyre age: years since the tyre was made, to the age at which tyres are usually replaced."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.margins.figures.demand_figure import DemandFigure, absent, derive, exact
from buildlog.analysis.margins.figures.margin_car import MarginCar
from buildlog.analysis.margins.figures.margin_rows import Row, kind_of, row
from buildlog.analysis.margins.figures.tyre_sets import FittedTyres, tyre_sets
from buildlog.physics.parts import traction

KIND = kind_of(__file__)

USUAL_AGE = 10.0
"""[year] age at which tyres are usually replaced whatever their tread (common practice)."""


def rows(car: MarginCar) -> Iterator[Row]:
    """One for each set of tyres."""
    words = "age at which tires are usually replaced (common practice)"
    for fitted in tyre_sets(car):
        yield row(KIND, _age(car, fitted), exact(USUAL_AGE, words, "typical"), what=fitted.axle)


def _age(car: MarginCar, fitted: FittedTyres) -> DemandFigure:
    made, path, on = fitted.tyre.made, fitted.paths.made, car.subject.on
    if made is None:
        return absent(path)
    if on is None:
        return absent("the day")
    code = exact(1.0, f"date code {made}", path=path)
    return derive(lambda _: traction.age_years(traction.made_on(made), on), code)
