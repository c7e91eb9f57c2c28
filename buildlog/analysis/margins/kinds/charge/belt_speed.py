"""Belt speed: the compressor's belt at the limiter against what its maker allows."""

from __future__ import annotations

from buildlog.analysis.margins.figures.charge_demand import belt_speed
from buildlog.analysis.margins.figures.margin_car import burns_driven, stated_limit
from buildlog.analysis.margins.figures.margin_rows import Example, Kind, one_row
from buildlog.analysis.margins.figures.shaft_demand import limiter

KIND = Kind(
    name="belt speed",
    unit="m/s",
    caution=0.10,
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


rows = one_row(
    KIND,
    lambda car: belt_speed(car, limiter(car)),
    stated_limit("induction.belt.speed_limit", "speed"),
    burns_driven,
)
