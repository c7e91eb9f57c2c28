"""Boost against limit: how far boost is from where the calibration cuts."""

from __future__ import annotations

from buildlog.analysis.margins.figures.charge_demand import boost
from buildlog.analysis.margins.figures.margin_car import burns_charged, stated_limit
from buildlog.analysis.margins.figures.margin_rows import kind_of, one_row

KIND = kind_of(__file__)


rows = one_row(KIND, boost, stated_limit("calibration.boost_limit_gauge"), burns_charged)
