"""What the compressor's belt is asked for: its speed and the power it carries."""

from __future__ import annotations

from buildlog.analysis.margins.figures.charge_demand import (
    compressor_efficiency,
    inlet,
    pressure_ratio,
)
from buildlog.analysis.margins.figures.demand_figure import DemandFigure, derive
from buildlog.analysis.margins.figures.fuel_demand import air_flow
from buildlog.analysis.margins.figures.margin_car import MarginCar, once_a_car
from buildlog.physics.gases import charge
from buildlog.physics.parts import belt
from buildlog.records.checked_paths import field

_PULLEY = field("induction.compressor.crank_pulley_diameter")


def belt_speed(car: MarginCar, omega: DemandFigure) -> DemandFigure:
    """Speed of the belt at an engine speed [m/s]."""
    return derive(belt.belt_speed, omega, car.given(_PULLEY))


@once_a_car
def compressor_power(car: MarginCar) -> DemandFigure:
    """Power that the belt brings to the compressor at full load [W]."""
    return derive(
        lambda air, inlet, ratio, eta, drive: charge.compressor_power(
            air, inlet, charge.compressor_temperature(inlet, ratio, eta), drive
        ),
        air_flow(car), inlet(car), pressure_ratio(car), compressor_efficiency(car),
        car.prior("blower_drive_efficiency"),
    )  # fmt: skip
