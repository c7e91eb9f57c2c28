"""Speeds and torques through gearbox and final drive."""

from __future__ import annotations

from collections.abc import Sequence

from buildlog.physics.engines.losses import road_speed
from buildlog.physics.numerics.arguments import not_negative


def check_ratios(ratios: Sequence[float]) -> None:
    """Raise ValueError unless there is at least one ratio and each is above zero."""
    if not ratios:
        raise ValueError("a gearbox without ratios: state at least one ratio.")
    for number, ratio in enumerate(ratios, start=1):
        if not ratio > 0:
            raise ValueError(f"ratio {number} of the gearbox must be above zero, not {ratio}.")


def fastest_at_limiter(
    omega: float, ratios: Sequence[float], final_drive: float, circumference: float
) -> float:
    """Return the highest road speed the gearing allows at the engine speed limiter.

    Formula: losses.road_speed in the gear of the lowest ratio.
    Inputs: limiter omega [rad/s], gear ratios [-], final_drive [-], circumference [m].
    Result: speed [m/s].
    Validity: gearing only; drag may keep the car from ever reaching it.
    Errors: ValueError without ratios, or as road_speed.
    Source: kinematics.

    >>> v = fastest_at_limiter(680.678, [3.4, 2.0, 1.3, 1.0], 3.73, 1.9337)
    >>> round(v * 3.6, 1)  # km/h
    202.2
    """
    check_ratios(ratios)
    not_negative(engine_speed=omega)
    return road_speed(omega, min(ratios) * final_drive, circumference)


def fastest_shaft(omega: float, ratios: Sequence[float]) -> float:
    """Return the highest speed of the shaft behind the gearbox at the limiter.

    Formula: omega over the lowest ratio.
    Inputs: limiter omega [rad/s], gear ratios [-]. Result: angular speed [rad/s].
    Validity: any. Errors: ValueError without ratios. Source: kinematics.

    >>> fastest_shaft(500.0, [3.4, 1.0, 0.8])
    625.0
    """
    check_ratios(ratios)
    not_negative(engine_speed=omega)
    return omega / min(ratios)


def highest_output_torque(torque: float, ratios: Sequence[float], efficiency: float) -> float:
    """Return the highest steady torque behind the gearbox, in the gear of the highest ratio.

    Formula: T i_max eta.
    Inputs: engine torque T [N*m], gear ratios [-], efficiency eta of the gearbox [-].
    Result: torque [N*m].
    Validity: steady torque; a dropped clutch gives more, tyres that spin less, see
    traction.torque_at_grip.
    Errors: ValueError without ratios, for a negative torque or an efficiency outside 0 to 1.
    Source: power balance.

    >>> round(highest_output_torque(430.0, [3.38, 1.0], 1.0), 1)
    1453.4
    """
    check_ratios(ratios)
    not_negative(torque=torque)
    if not 0 < efficiency <= 1:
        raise ValueError(f"the efficiency must be above 0 and at most 1, not {efficiency}.")
    return torque * max(ratios) * efficiency
