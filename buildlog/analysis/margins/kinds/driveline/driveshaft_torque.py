"""Driveshaft torque: behind the gearbox in first gear, of what the shaft is rated for."""

from __future__ import annotations

from buildlog.analysis.margins.figures.margin_car import stated_limit
from buildlog.analysis.margins.figures.margin_rows import Example, Kind, at_crank, one_row
from buildlog.analysis.margins.figures.shaft_demand import has_driveshaft, shaft_torque

KIND = Kind(
    name="driveshaft torque",
    unit="N*m",
    caution=0.20,
    meaning="Torque behind the gearbox in first gear against what the shaft is rated for.",
    formula="engine torque times the highest gear ratio of the rated torque",
    source="power balance",
    typical="20 % in hand (common practice)",
    says_not="what a dropped clutch adds",
    power_driven=True,
)
EXAMPLE = Example(
    by_hand="382 N*m x 3.3 = 1261 N*m, of 1900 N*m",
    demand=1260.6,
    capacity=1900.0,
    car={"gearbox.ratios": [3.3, 1.0], "driveshaft.rated_torque": "1900 N*m"},
    run=at_crank(200e3, 600.0, torque=382.0),
)


rows = one_row(
    KIND, shaft_torque, stated_limit("driveshaft.rated_torque", "torque"), has_driveshaft
)
