"""Turbine inlet temperature: what was logged before the turbine, against its limit."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.margins.figures.demand_figure import DemandFigure, absent
from buildlog.analysis.margins.figures.margin_car import MarginCar, stated_limit
from buildlog.analysis.margins.figures.margin_rows import Row, kind_of, row

KIND = kind_of(__file__)
LOGGED = "a session that logs turbine_inlet_temperature"
_LIMIT = stated_limit("induction.turbine.inlet_limit")


def rows(car: MarginCar) -> Iterator[Row]:
    """One, where a turbine's limit is stated; no formula stands in for a probe."""
    limit = car.limit(_LIMIT)
    if not limit.unstated and car.compressor == "turbocharger":
        yield row(KIND, _demand(car), limit)


def _demand(car: MarginCar) -> DemandFigure:
    """The hottest that was logged in the pulls of this configuration [K]."""
    run = car.subject.run
    return absent(LOGGED) if run is None or run.turbine_inlet is None else run.turbine_inlet
