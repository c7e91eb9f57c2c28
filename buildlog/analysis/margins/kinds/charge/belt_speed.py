"""Belt speed: the compressor's belt at the limiter against what its maker allows."""

from __future__ import annotations

from buildlog.analysis.margins.figures.charge_demand import belt_speed
from buildlog.analysis.margins.figures.margin_car import burns_driven, stated_limit
from buildlog.analysis.margins.figures.margin_rows import kind_of, one_row
from buildlog.analysis.margins.figures.shaft_demand import limiter

KIND = kind_of(__file__)


rows = one_row(
    KIND,
    lambda car: belt_speed(car, limiter(car)),
    stated_limit("induction.belt.speed_limit", "speed"),
    burns_driven,
)
