"""Flywheel stress: in the rim at the limiter, of what the maker allows."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.margins.figures.demand_figure import DemandFigure, absent, derive, exact
from buildlog.analysis.margins.figures.margin_car import MarginCar, limit_table
from buildlog.analysis.margins.figures.margin_rows import Row, kind_of, row
from buildlog.analysis.margins.figures.shaft_demand import limiter
from buildlog.physics.parts import flywheel
from buildlog.records.checked_paths import field

KIND = kind_of(__file__)

# Handbook densities [kg/m^3] (from memory).
_DENSITY = {"grey-iron": 7200.0, "ductile-iron": 7100.0, "steel": 7850.0, "aluminium": 2700.0}
_MATERIAL, _DIAMETER = field("flywheel.material"), field("flywheel.diameter")
_LIMIT = limit_table("flywheel", "pressure")


def rows(car: MarginCar) -> Iterator[Row]:
    """One, as of a thin rim: an upper bound for a disc of the same diameter."""
    if car.combustion:
        stress = derive(
            lambda omega, diameter, rho: flywheel.ring_stress(omega, diameter / 2, rho),
            limiter(car), car.given(_DIAMETER), _density(car),
        )  # fmt: skip
        yield row(KIND, stress, car.general_limit(_LIMIT), note="as a thin rim: an upper bound")


def _density(car: MarginCar) -> DemandFigure:
    given = car.configuration.flywheel
    if given is None or given.material is None:
        return absent(_MATERIAL)
    return exact(_DENSITY[given.material])
