"""Belt speed: the compressor's belt at the limiter against what its maker allows."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.margins.figures import belt_demand
from buildlog.analysis.margins.figures.margin_car import MarginCar
from buildlog.analysis.margins.figures.margin_rows import Row, row
from buildlog.analysis.margins.figures.power_demand import limiter
from buildlog.analysis.margins.figures.stated_limit import stated_limit
from buildlog.analysis.margins.figures.worked_example import Example
from buildlog.physics.parts.margin import PRACTICE, Kind, Rule

KIND = Kind(
    name="belt speed",
    rule=Rule.RATIO,
    unit="m/s",
    caution=0.10,
    caution_source=PRACTICE,
    meaning="Speed of the compressor's belt against what its maker allows.",
    formula="omega D/2",
    source="kinematics",
    typical="30 to 50 m/s at the limiter (common practice)",
    says_not="whether pulleys and tensioner are balanced for it",
    shown="m/s",
)
EXAMPLE = Example(
    by_hand="628.3 rad/s x 75 mm = 47.12 m/s, of 60 m/s",
    demand=47.12,
    capacity=60.0,
    car={
        "induction.kind": "centrifugal", "induction.belt.speed_limit": "60 m/s",
        "induction.compressor.crank_pulley_diameter": "150 mm",
        "calibration.rev_limit": "6000 rpm",
    },
)  # fmt: skip

_LIMIT = stated_limit("induction.belt.speed_limit", "speed")


def rows(car: MarginCar) -> Iterator[Row]:
    """One, where the engine drives the compressor."""
    if car.driven and car.combustion:
        yield row(KIND, belt_demand.belt_speed(car, limiter(car)), car.limit(_LIMIT))
