"""Tyre age: years since the tyre was made, to the age at which tyres are usually replaced."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from buildlog.analysis.margins.figures.demand_figure import DemandFigure, absent, derive, exact
from buildlog.analysis.margins.figures.margin_car import MarginCar
from buildlog.analysis.margins.figures.margin_rows import Example, Kind, Row, Rule, row
from buildlog.analysis.margins.figures.tyre_sets import FittedTyres, tyre_sets
from buildlog.physics.parts import traction

KIND = Kind(
    name="tyre age",
    rule=Rule.AT_MOST,
    unit="year",
    caution=4.0,
    caution_source="a yearly look from six years on; common practice, no source",
    meaning="Years since the tyre was made, against the age at which tyres are usually replaced.",
    formula="limit less years since the week of the date code",
    source="definition",
    typical="looked at each year from six on, replaced by ten (common practice)",
    says_not="how the tyre was stored; rubber is judged by eye and hand as well",
)
EXAMPLE = Example(
    by_hand="Monday of week 1 of 2020 to 2025-12-29: 2191 days = 5.999 years, and at most 10",
    demand=5.999,
    capacity=10.0,
    car={"tyres.made": "0120"},
    on=dt.date(2025, 12, 29),
)

USUAL_AGE = 10.0
"""[year] age at which tyres are usually replaced whatever their tread (common practice)."""


def rows(car: MarginCar) -> Iterator[Row]:
    """One for each set of tyres."""
    words = "age at which tyres are usually replaced (common practice)"
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
