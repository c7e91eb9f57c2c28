"""Engine speed: where the calibration cuts of what the engine's maker or builder allows."""

from __future__ import annotations

from buildlog.analysis.margins.figures.margin_car import stated_limit
from buildlog.analysis.margins.figures.margin_rows import Example, Kind, one_row
from buildlog.records.checked_paths import field

KIND = Kind(
    name="engine speed",
    unit="rad/s",
    caution=0.03,
    meaning="The speed at which the calibration cuts against what the engine's maker or builder "
    "allows.",
    formula="limiter of the engine's limit",
    source="definition",
    typical="100 to 300 rpm in hand (common practice)",
    says_not="what a missed shift does past the limiter",
)
EXAMPLE = Example(
    by_hand="6300 rpm = 659.7 rad/s, of 6500 rpm = 680.7 rad/s",
    demand=659.7,
    capacity=680.7,
    car={"calibration.rev_limit": "6300 rpm", "engine.rev_limit": "6500 rpm"},
)

_CUT = field("calibration.rev_limit")

# The maker's limit does not stand in for the calibration's.
rows = one_row(KIND, lambda car: car.given(_CUT), stated_limit("engine.rev_limit", "angular_speed"))
