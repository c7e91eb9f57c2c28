"""Flywheel speed: the limiter of the speed that the flywheel's supplier certifies."""

from __future__ import annotations

from buildlog.analysis.margins.figures.margin_car import stated_limit
from buildlog.analysis.margins.figures.margin_rows import Example, Kind, one_row
from buildlog.analysis.margins.figures.shaft_demand import limiter

KIND = Kind(
    name="flywheel speed",
    unit="rad/s",
    caution=0.10,
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


rows = one_row(KIND, limiter, stated_limit("flywheel.speed_limit", "angular_speed"))
