"""Grip: force in first gear at the highest torque of what the tyres can pass; information."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.margins.figures.demand_figure import DemandFigure
from buildlog.analysis.margins.figures.margin_car import MarginCar
from buildlog.analysis.margins.figures.margin_rows import Row, kind_of, row
from buildlog.analysis.margins.figures.shaft_demand import (
    circumference,
    crank_torque,
    driveline_loss,
    final_ratio,
    grip_force,
    peak_speed,
    through_gears,
)
from buildlog.physics.engines.losses import wheel_force

KIND = kind_of(__file__)


def rows(car: MarginCar) -> Iterator[Row]:
    """One, for information."""
    if car.combustion:
        yield row(KIND, _demand(car), grip_force(car), note="past it the tires spin")


def _demand(car: MarginCar) -> DemandFigure:
    return through_gears(
        car,
        lambda torque, loss, omega, final, round_, ratios: wheel_force(
            torque * omega * (1 - loss), omega, max(ratios) * final, round_
        ),
        crank_torque(car), driveline_loss(car), peak_speed(car), final_ratio(car),
        circumference(car),
    )  # fmt: skip
