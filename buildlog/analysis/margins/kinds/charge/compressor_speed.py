"""Compressor speed: the rotor against what its maker allows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import sqrt

from buildlog.analysis.margins.figures.charge_demand import pressure_ratio
from buildlog.analysis.margins.figures.demand_figure import DemandFigure, derive, exact
from buildlog.analysis.margins.figures.margin_car import MarginCar, burns_charged, stated_limit
from buildlog.analysis.margins.figures.margin_rows import Row, kind_of, row
from buildlog.analysis.margins.figures.shaft_demand import limiter
from buildlog.physics.gases import charge
from buildlog.records.checked_paths import field

KIND = kind_of(__file__)
_TURBO = replace(
    KIND,
    formula="the maker's speed at a stated pressure ratio times the root of head over head there",
    source="similarity of compressors (from memory)",
    says_not="what a surging or overspeeding rotor does when boost control fails",
)

_LIMIT = stated_limit("induction.compressor.speed_limit", "angular_speed")
_DRIVE_RATIO = field("induction.compressor.drive_ratio")
_CRANK_PULLEY = field("induction.compressor.crank_pulley_diameter")
_ITS_PULLEY = field("induction.compressor.compressor_pulley_diameter")
_STEP_UP = field("induction.compressor.step_up_ratio")
_STATED_RATIO = field("induction.compressor.stated_pressure_ratio")
_STATED_SPEED = field("induction.compressor.stated_speed")


def _drive_ratio(car: MarginCar) -> DemandFigure:
    """Turns of the compressor for one of the crank."""
    stated = car.given(_DRIVE_RATIO)
    if stated.band is not None:
        return stated
    step = car.given(_STEP_UP)
    pulleys = derive(charge.drive_ratio, car.given(_CRANK_PULLEY), car.given(_ITS_PULLEY))
    if pulleys.band is None:
        return pulleys if pulleys.problem else stated
    return derive(lambda x, gears: x * gears, pulleys, step if step.band else exact(1.0))


def _speed(car: MarginCar) -> DemandFigure:
    """Of what the engine drives by its drive ratio, of a turbocharger from a point of its maker."""
    if car.driven:
        return derive(lambda omega, ratio: omega * ratio, limiter(car), _drive_ratio(car))
    stated = car.given(_STATED_RATIO), car.given(_STATED_SPEED)
    return derive(_speed_at_ratio, pressure_ratio(car), *stated)


def _speed_at_ratio(ratio: float, stated_ratio: float, stated_speed: float) -> float:
    """Head of an impeller grows with speed squared: similarity laws (from memory)."""
    if stated_ratio <= 1:
        raise ValueError(f"{_STATED_RATIO} must be above 1.")
    head = (max(ratio, 1.0) ** charge.ISENTROPIC - 1) / (stated_ratio**charge.ISENTROPIC - 1)
    return stated_speed * sqrt(head)


def rows(car: MarginCar) -> Iterator[Row]:
    """One, where something compresses the charge, with the formula that was used."""
    if burns_charged(car):
        yield row(KIND if car.driven else _TURBO, _speed(car), car.limit(_LIMIT))
