"""Between flywheel and tyre: driveline loss, wheel force and road speed."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi
from typing import Generic

from buildlog.physics.numerics.constants import Real


@dataclass(frozen=True)
class Driveline(Generic[Real]):
    """Loss = proportional * crank power + drag * omega.

    proportional [-]; drag [N*m], a torque at the crankshaft that does not depend on load.
    """

    proportional: Real
    drag: Real


def driveline_at(
    wheel_power: Real, omega: Real, loss: Real, constant_share: Real
) -> Driveline[Real]:
    """Return the two parts of a driveline loss known as one fraction at one point.

    Formula: a = (1 - s) L, drag = s L P_crank / omega with P_crank = P_wheel / (1 - L).
    Inputs: wheel power [W] at omega [rad/s] (the power peak), loss as a fraction of crank
    power there L [-], share of it that does not grow with power s [-].
    Result: Driveline. Validity: 0 <= L < 1, 0 <= s <= 1. Errors: none.
    Source: loss = a P + b(rpm) after the scopes of SAE J1540 and J2453;
    percentages are common practice, no source.

    >>> d = driveline_at(85e3, 500.0, 0.15, 0.4)
    >>> round(d.proportional, 3), round(d.drag, 3)
    (0.09, 12.0)
    """
    crank = wheel_power / (1 - loss)
    return Driveline((1 - constant_share) * loss, constant_share * loss * crank / omega)


def crank_power(wheel_power: Real, omega: Real, driveline: Driveline[Real]) -> Real:
    """Return crank power from wheel power: (P_wheel + drag omega) / (1 - a) [W].

    Inputs: wheel power [W], engine speed [rad/s], Driveline. Validity: a below 1.
    Errors: none. Source: definition of Driveline.

    >>> round(crank_power(85e3, 500.0, Driveline(0.09, 12.0)))
    100000
    """
    return (wheel_power + driveline.drag * omega) / (1 - driveline.proportional)


def wheel_power(crank_power: Real, omega: Real, driveline: Driveline[Real]) -> Real:
    """Return wheel power from crank power: (1 - a) P_crank - drag omega [W].

    Inputs: crank power [W], engine speed [rad/s], Driveline. Validity: a below 1.
    Errors: none. Source: definition of Driveline.

    >>> round(wheel_power(100e3, 500.0, Driveline(0.09, 12.0)))
    85000
    """
    return (1 - driveline.proportional) * crank_power - driveline.drag * omega


def road_speed(omega: Real, overall_ratio: float, rolling_circumference: float) -> Real:
    """Return road speed in a gear: v = omega / (2 pi i) C [m/s].

    Inputs: engine speed [rad/s], gear times final drive i [-], rolling circumference C [m].
    Validity: locked drive, no tyre slip. Errors: ValueError unless both are above zero.
    Source: definition.

    >>> round(road_speed(6000 * pi / 30, 3.55, 1609.344 / 810.46) * 3600 / 1609.344, 1)
    125.1
    """
    if overall_ratio <= 0 or rolling_circumference <= 0:
        raise ValueError(
            f"ratio and rolling circumference must be above zero, not {overall_ratio} and "
            f"{rolling_circumference} m."
        )
    return omega / (2 * pi * overall_ratio) * rolling_circumference


def wheel_force(
    power: Real, omega: Real, overall_ratio: float, rolling_circumference: float
) -> Real:
    """Return the force at the driven tyres: F = P_wheel / v [N].

    A final drive or tyre changes this force and the road speed of each engine speed, not
    the power. Inputs: wheel power [W], engine speed [rad/s], gear times final drive [-],
    rolling circumference [m]. Validity and errors: as `road_speed`; grip is not looked at.
    Source: definition of power.

    >>> round(wheel_force(100e3, 500.0, 4.0, 2.0), 1)
    2513.3
    """
    return power / road_speed(omega, overall_ratio, rolling_circumference)
