"""Boost against sensor range: manifold pressure of the most that the sensor can show."""

from __future__ import annotations

from buildlog.analysis.margins.figures.charge_demand import manifold
from buildlog.analysis.margins.figures.margin_car import burns_charged, stated_limit
from buildlog.analysis.margins.figures.margin_rows import kind_of, one_row

KIND = kind_of(__file__)


rows = one_row(KIND, manifold, stated_limit("intake.pressure_sensor.range_absolute"), burns_charged)
