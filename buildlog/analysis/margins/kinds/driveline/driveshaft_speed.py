"""Driveshaft critical speed: its highest speed of the speed at which it whirls."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from buildlog.analysis.margins.figures.demand_figure import DemandFigure, absent, derive
from buildlog.analysis.margins.figures.margin_car import MarginCar, stated_limit
from buildlog.analysis.margins.figures.margin_rows import PRACTICE, Example, Kind, Row, row
from buildlog.analysis.margins.figures.shaft_demand import has_driveshaft, limiter, through_gears
from buildlog.physics.parts import driveshaft, gear_train
from buildlog.records.checked_paths import field

KIND = Kind(
    name="driveshaft critical speed",
    unit="rad/s",
    caution=0.30,
    caution_source="run to 65 to 75 % of it; common practice, no source",
    meaning="The shaft's highest speed against the speed at which it bends like a skipping rope, "
    "or its supplier's limit.",
    formula="limiter over lowest gear ratio of (pi/L)^2 sqrt(E I/(rho A))",
    source="beam theory; Shigley, section 7-6 (eq. 7-23 secondary)",
    typical="65 to 75 % of the computed speed at most (common practice)",
    says_not="what soft mounts, worn joints and unbalance take away",
)
# A supplier's speed has the reserve for whirling in it.
_STATED = replace(KIND, caution=0.10, caution_source=PRACTICE)
EXAMPLE = Example(
    by_hand="628.3 rad/s/0.8 = 785.4 rad/s, of (pi/1.1 m)^2 x sqrt(207 GPa/7850 kg/m3 x "
    "(70^2 + 66.4^2) mm2/16) = 1010 rad/s",
    demand=785.4,
    capacity=1010.3,
    car={
        "calibration.rev_limit": "6000 rpm", "gearbox.ratios": [3.3, 0.8],
        "driveshaft.length": "1100 mm", "driveshaft.material": "steel",
        "driveshaft.outer_diameter": "70 mm", "driveshaft.wall": "1.8 mm",
    },
)  # fmt: skip

_LIMIT = stated_limit("driveshaft.speed_limit", "angular_speed")
_MATERIAL = field("driveshaft.material")
_TUBE = (
    field("driveshaft.length"), field("driveshaft.outer_diameter"), field("driveshaft.wall"),
)  # fmt: skip


def rows(car: MarginCar) -> Iterator[Row]:
    """One, where a shaft runs behind the gearbox."""
    if has_driveshaft(car):
        speed = through_gears(car, gear_train.fastest_shaft, limiter(car))
        stated = car.limit(_LIMIT)
        kind = KIND if stated.band is None else _STATED
        yield row(kind, speed, stated, _whirling(car))


def _whirling(car: MarginCar) -> DemandFigure:
    given = car.configuration.driveshaft
    material = driveshaft.MATERIALS.get(str(given.material)) if given is not None else None
    if material is None:  # carbon tubes depend on their lay-up
        return absent(_MATERIAL)
    return derive(
        lambda length, d, t: driveshaft.critical_speed(length, d, t, material),
        *(car.given(path) for path in _TUBE),
    )
