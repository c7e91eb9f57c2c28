"""Flywheel stress: in the rim at the limiter, of what the maker allows."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.margins.figures.demand_figure import DemandFigure, absent, derive, exact
from buildlog.analysis.margins.figures.margin_car import MarginCar, limit_table
from buildlog.analysis.margins.figures.margin_rows import Example, Kind, Row, row
from buildlog.analysis.margins.figures.shaft_demand import limiter
from buildlog.physics.parts import flywheel
from buildlog.records.checked_paths import field

KIND = Kind(
    name="flywheel stress",
    unit="Pa",
    caution=0.50,
    caution_source="twofold reserve of stress; common practice, no source",
    meaning="Stress in the rim at the limiter against what the maker allows.",
    formula="(rho omega^2/4)[(3 + nu) ro^2 + (1 - nu) ri^2]; rho v^2 for a ring",
    source="Roark (from memory); Mechanical Engineer's Data Handbook p. 15 (opened)",
    typical="less than half of the strength (common practice)",
    says_not="what holes, cracks, heat checks or repairs leave of the strength",
    shown="MPa",
)
EXAMPLE = Example(
    by_hand="7850 kg/m3 x (628.3 rad/s x 140 mm)^2 = 60.74 MPa, of 200 MPa",
    demand=60.74e6,
    capacity=200e6,
    car={
        "flywheel.material": "steel", "flywheel.diameter": "280 mm",
        "flywheel.limit.value": "200 MPa", "calibration.rev_limit": "6000 rpm",
    },
)  # fmt: skip

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
