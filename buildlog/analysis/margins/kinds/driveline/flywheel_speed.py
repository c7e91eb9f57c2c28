"""Flywheel speed: the limiter of the speed that the flywheel's supplier certifies."""

from __future__ import annotations

from buildlog.analysis.margins.figures.margin_car import stated_limit
from buildlog.analysis.margins.figures.margin_rows import kind_of, one_row
from buildlog.analysis.margins.figures.shaft_demand import limiter

KIND = kind_of(__file__)


rows = one_row(KIND, limiter, stated_limit("flywheel.speed_limit", "angular_speed"))
