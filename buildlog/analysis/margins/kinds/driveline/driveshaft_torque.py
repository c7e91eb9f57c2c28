"""Driveshaft torque: behind the gearbox in first gear, of what the shaft is rated for."""

from __future__ import annotations

from buildlog.analysis.margins.figures.margin_car import stated_limit
from buildlog.analysis.margins.figures.margin_rows import kind_of, one_row
from buildlog.analysis.margins.figures.shaft_demand import has_driveshaft, shaft_torque

KIND = kind_of(__file__)


rows = one_row(
    KIND, shaft_torque, stated_limit("driveshaft.rated_torque", "torque"), has_driveshaft
)
