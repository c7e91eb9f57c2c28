"""Engine speed: where the calibration cuts of what the engine's maker or builder allows."""

from __future__ import annotations

from buildlog.analysis.margins.figures.margin_car import burns_controlled, stated_limit
from buildlog.analysis.margins.figures.margin_rows import kind_of, one_row
from buildlog.records.checked_paths import field

KIND = kind_of(__file__)

_CUT = field("calibration.rev_limit")

# The maker's limit does not stand in for the calibration's.
rows = one_row(
    KIND, lambda car: car.given(_CUT), stated_limit("engine.rev_limit", "angular_speed"),
    burns_controlled,
)  # fmt: skip
