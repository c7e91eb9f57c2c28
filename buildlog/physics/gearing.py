"""Speeds and torques through gearbox and final drive."""

from __future__ import annotations

from collections.abc import Sequence
from math import pi

from buildlog.physics.checks import above_zero, not_negative


def check_ratios(ratios: Sequence[float]) -> None:
    """Raise ValueError unless there is at least one ratio and each is above zero."""
    if not ratios:
        raise ValueError("a gearbox without ratios: state at least one ratio.")
    for number, ratio in enumerate(ratios, start=1):
        if not ratio > 0:
            raise ValueError(f"ratio {number} of the gearbox must be above zero, not {ratio}.")


def road_speed(omega: float, overall_ratio: float, circumference: float) -> float:
    """Return the road speed of an engine speed with a locked drive and no slip.

    Formula: v = omega C/(2 pi i).
    Inputs: engine speed omega [rad/s], overall_ratio i: gear times final drive [-],
    rolling circumference C [m].
    Result: speed [m/s].
    Validity: no converter or tyre slip; a tyre grows by about 1 % at high speed.
    Errors: ValueError unless ratio and circumference are above zero.
    Source: kinematics.

    >>> v = road_speed(6000 * pi / 30, 3.55, 1609.344 / 810.46)
    >>> round(v / 0.44704, 1)  # mph
    125.1
    """
    above_zero(overall_ratio=overall_ratio, rolling_circumference=circumference)
    not_negative(engine_speed=omega)
    return omega * circumference / (2 * pi * overall_ratio)


def engine_speed(speed: float, overall_ratio: float, circumference: float) -> float:
    """Return the engine speed of a road speed; the inverse of road_speed.

    Formula: omega = 2 pi i v/C.
    Inputs: speed v [m/s], overall_ratio i [-], rolling circumference C [m].
    Result: angular speed [rad/s]. Validity, errors, source: as road_speed.

    >>> round(engine_speed(26.8224, 0.68 * 3.55, 1609.344 / 810.46) * 30 / pi)
    1956
    """
    above_zero(overall_ratio=overall_ratio, rolling_circumference=circumference)
    not_negative(road_speed=speed)
    return 2 * pi * overall_ratio * speed / circumference


def fastest_at_limiter(
    omega: float, ratios: Sequence[float], final_drive: float, circumference: float
) -> float:
    """Return the highest road speed the gearing allows at the engine speed limiter.

    Formula: road_speed in the gear of the lowest ratio.
    Inputs: limiter omega [rad/s], gear ratios [-], final_drive [-], circumference [m].
    Result: speed [m/s].
    Validity: gearing only; drag may keep the car from ever reaching it.
    Errors: ValueError without ratios, or as road_speed.
    Source: kinematics.

    >>> v = fastest_at_limiter(6500 * pi / 30, [3.4, 2.0, 1.3, 1.0], 3.73, 1.9337)
    >>> round(v * 3.6, 1)  # km/h
    202.2
    """
    check_ratios(ratios)
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
