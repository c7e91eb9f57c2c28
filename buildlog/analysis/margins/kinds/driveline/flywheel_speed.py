"""Flywheel speed: the limiter of the speed that the flywheel's supplier certifies."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.margins.figures.margin_car import MarginCar
from buildlog.analysis.margins.figures.margin_rows import Row, row
from buildlog.analysis.margins.figures.power_demand import limiter
from buildlog.analysis.margins.figures.stated_limit import stated_limit
from buildlog.analysis.margins.figures.worked_example import Example
from buildlog.physics.parts.margin import PRACTICE, Kind, Rule

KIND = Kind(
    name="flywheel speed",
    rule=Rule.RATIO,
    unit="rad/s",
    caution=0.10,
    caution_source=PRACTICE,
    meaning="The limiter against the speed that the flywheel's supplier certifies.",
    formula="limiter of the supplier's speed",
    source="definition",
    typical="20 % in hand (common practice)",
    says_not="whether the flywheel was resurfaced or cracked since it was rated",
)
EXAMPLE = Example(
    by_hand="6000 rpm = 628.3 rad/s, of 8500 rpm = 890.1 rad/s",
    demand=628.3,
    capacity=890.1,
    car={"calibration.rev_limit": "6000 rpm", "flywheel.speed_limit": "8500 rpm"},
)

_LIMIT = stated_limit("flywheel.speed_limit", "angular_speed")


def rows(car: MarginCar) -> Iterator[Row]:
    """One."""
    if car.combustion:
        yield row(KIND, limiter(car), car.limit(_LIMIT))
