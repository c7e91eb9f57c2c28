"""Full-load lambda: how far the mixture is from the lean edge of what is usual."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.margins.figures.demand_figure import DemandFigure, derive, exact
from buildlog.analysis.margins.figures.fuel_demand import full_load_lambda
from buildlog.analysis.margins.figures.margin_car import MarginCar
from buildlog.analysis.margins.figures.margin_rows import Row, kind_of, row

KIND = kind_of(__file__)

USUAL_LEAN_EDGE = {"unboosted": 0.90, "boosted": 0.85}
"""[-] lean edge of the usual full-load lambda on gasoline (common practice, no source)."""


def rows(car: MarginCar) -> Iterator[Row]:
    """One, where the usual edge means anything: spark ignition, not on methanol."""
    fuel = car.configuration.fuel
    if car.spark_ignition and car.controlled and not (fuel is not None and fuel.kind == "methanol"):
        yield row(KIND, _demand(car), _usual_edge(car))


def _demand(car: MarginCar) -> DemandFigure:
    """The leanest that was held, else what is known of full load; without the fuel that stays away
    where something has failed [-]."""
    run, lean = car.subject.run, car.subject.lean
    known = full_load_lambda(car) if run is None or run.leanest is None else run.leanest
    return known if lean is None else derive(lambda x, by: x * by, known, lean)


def _usual_edge(car: MarginCar) -> DemandFigure:
    """It belongs to no part but to the trade."""
    load = "boosted" if car.boosted else "unboosted"
    words = f"usual lean edge of {load} full load (common practice)"
    return exact(USUAL_LEAN_EDGE[load], words, "typical")
