"""Driveshaft critical speed: its highest speed of the speed at which it whirls."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from buildlog.analysis.margins.figures.demand_figure import DemandFigure, absent, derive
from buildlog.analysis.margins.figures.margin_car import MarginCar, stated_limit
from buildlog.analysis.margins.figures.margin_rows import PRACTICE, Row, kind_of, row
from buildlog.analysis.margins.figures.shaft_demand import has_driveshaft, limiter, through_gears
from buildlog.physics.parts import driveshaft, gear_train
from buildlog.records.checked_paths import field

KIND = kind_of(__file__)
# A supplier's speed has the reserve for whirling in it.
_STATED = replace(KIND, caution=0.10, caution_source=PRACTICE)

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
