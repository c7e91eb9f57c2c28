"""Driveshaft stress: shear in the tube in first gear, of what its maker allows."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.margins.figures.demand_figure import derive
from buildlog.analysis.margins.figures.margin_car import MarginCar, stated_limit
from buildlog.analysis.margins.figures.margin_rows import Example, Kind, Row, at_crank, row
from buildlog.analysis.margins.figures.shaft_demand import has_driveshaft, shaft_torque
from buildlog.physics.parts import driveshaft
from buildlog.records.checked_paths import field

KIND = Kind(
    name="driveshaft stress",
    unit="Pa",
    caution=0.33,
    caution_source="reserve of 1.5 for shocks; common practice, no source",
    meaning="Shear stress in the tube in first gear against what its maker allows.",
    formula="16 T D/(pi (D^4 - d^4))",
    source="Shigley, eq. 3-37 (from memory)",
    typical="1.5 times in hand for shocks (common practice)",
    says_not="what welds, joints and a dropped clutch add",
    shown="MPa",
    power_driven=True,
)
EXAMPLE = Example(
    by_hand="16 x 1260.6 N*m x 70 mm/(pi (70^4 - 66.4^4) mm4) = 98.32 MPa, of 170 MPa",
    demand=98.32e6,
    capacity=170e6,
    car={
        "gearbox.ratios": [3.3, 1.0], "driveshaft.shear_strength": "170 MPa",
        "driveshaft.outer_diameter": "70 mm", "driveshaft.wall": "1.8 mm",
    },
    run=at_crank(200e3, 600.0, torque=382.0),
)  # fmt: skip

_OUTER, _WALL = field("driveshaft.outer_diameter"), field("driveshaft.wall")
_STRENGTH = stated_limit("driveshaft.shear_strength", "pressure")


def rows(car: MarginCar) -> Iterator[Row]:
    """One, where a shaft runs behind the gearbox."""
    if has_driveshaft(car):
        tube = car.given(_OUTER), car.given(_WALL)
        stress = derive(driveshaft.shear_stress, shaft_torque(car), *tube)
        yield row(KIND, stress, car.limit(_STRENGTH))
