"""Grip: force in first gear at the highest torque of what the tyres can pass; information."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.analysis.margins.figures.demand_figure import DemandFigure
from buildlog.analysis.margins.figures.margin_car import MarginCar
from buildlog.analysis.margins.figures.margin_rows import Example, Kind, Row, at_crank, row
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

KIND = Kind(
    name="grip",
    unit="N",
    caution=0.10,
    meaning="The force that the engine can put to the road in first gear against what the tyres "
    "pass. Past it they spin; nothing breaks.",
    formula="P/v or T i eta/r of mu N",
    source="power balance; Gillespie, ch. 2 (from memory)",
    typical="over in first gear for any car with much torque",
    says_not="that anything breaks: past it the tyres spin",
    power_driven=True,
    information=True,
)
EXAMPLE = Example(
    by_hand="382 N*m x (1 - 0.1553) x 3.3 x 3.7/315.1 mm = 12.50 kN, "
    "of 0.9 x 700 kg x 9.807 m/s2 = 6178 N",
    demand=12.50e3,
    capacity=6178.0,
    car={
        "chassis.driven_wheels": "rear", "chassis.driven_axle_load": "700 kg",
        "chassis.grip_coefficient": 0.9, "tyres.rolling_circumference": "1.98 m",
        "gearbox.ratios": [3.3, 1.0], "final_drive.ratio": 3.7,
    },
    run=at_crank(200e3, 600.0, torque=382.0),
)  # fmt: skip


def rows(car: MarginCar) -> Iterator[Row]:
    """One, for information."""
    if car.combustion:
        yield row(KIND, _demand(car), grip_force(car), note="information: past it tyres spin")


def _demand(car: MarginCar) -> DemandFigure:
    return through_gears(
        car,
        lambda torque, loss, omega, final, round_, ratios: wheel_force(
            torque * omega * (1 - loss), omega, max(ratios) * final, round_
        ),
        crank_torque(car), driveline_loss(car), peak_speed(car), final_ratio(car),
        circumference(car),
    )  # fmt: skip
