"""Speed, grip and load of an accessory or blower belt."""

from __future__ import annotations

from math import exp, pi, sin

from buildlog.physics.numerics.arguments import above_zero, not_negative


def belt_speed(omega: float, pulley_diameter: float) -> float:
    """Return the speed of a belt on a pulley.

    Formula: v = omega D/2.
    Inputs: speed of the pulley [rad/s], its effective diameter D [m]. Result: speed [m/s].
    Validity: no slip. Errors: ValueError unless the diameter is above zero.
    Source: kinematics.

    >>> round(belt_speed(11_000 * pi / 30, 0.073), 1)
    42.0
    """
    above_zero(pulley_diameter=pulley_diameter)
    not_negative(pulley_speed=omega)
    return omega * pulley_diameter / 2


def effective_tension(power: float, speed: float) -> float:
    """Return the difference of the two belt tensions that a power asks for.

    Formula: T1 - T2 = P/v.
    Inputs: power P [W], belt speed v [m/s]. Result: force [N].
    Validity: steady running. Errors: ValueError unless the speed is above zero.
    Source: power balance; Shigley, Mechanical Engineering Design, ch. 17 (from memory).

    >>> round(effective_tension(21e3, belt_speed(11_000 * pi / 30, 0.073)))
    499
    """
    above_zero(belt_speed=speed)
    not_negative(power=power)
    return power / speed


def tension_ratio(friction: float, wrap: float, groove: float = pi) -> float:
    """Return the ratio of tensions at which a belt slips all round its pulley.

    Formula: T1/T2 = exp(mu theta/sin(beta/2)).
    Inputs: friction coefficient mu [-], wrap angle theta [rad], groove angle beta [rad], pi
    for a flat belt.
    Result: ratio [-].
    Validity: slow belt; centrifugal force is in `grip`. Ribs of 40 degrees that do not
    bottom; mu of a warm rubber belt.
    Errors: ValueError unless mu and wrap are above zero and the groove is 0 to 180 degrees.
    Source: belt equation (Euler, Eytelwein); Shigley, ch. 17 (from memory).

    >>> round(tension_ratio(0.3, pi), 3)
    2.566
    """
    above_zero(friction=friction, wrap_angle=wrap, groove_angle=groove)
    if groove > pi:
        raise ValueError(f"the groove angle must be at most 180 degrees, not {groove} rad.")
    return exp(friction * wrap / sin(groove / 2))


def grip(
    installed_tension: float,
    friction: float,
    wrap: float,
    groove: float = pi,
    mass_per_length: float = 0.0,
    speed: float = 0.0,
) -> float:
    """Return the effective tension at which a belt of a given installed tension slips.

    Formula: the two tensions keep their sum 2 T0 and lose m v^2 each to centrifugal force,
    2 (T0 - m v^2) (R - 1)/(R + 1) with R = tension_ratio.
    Inputs: installed_tension T0 of one span [N], friction [-], wrap [rad], groove [rad],
    mass_per_length m [kg/m], belt speed v [m/s].
    Result: force [N], zero where centrifugal force lifts the belt.
    Validity: fixed centres. A spring tensioner holds the slack span instead, so that this
    is a lower bound for it.
    Errors: as tension_ratio; ValueError unless the tension is above zero.
    Source: belt equation with the sum of tensions; Shigley, ch. 17 (from memory).

    >>> round(grip(400.0, 0.3, pi), 1)
    351.3
    """
    above_zero(installed_tension=installed_tension)
    not_negative(mass_per_length=mass_per_length, belt_speed=speed)
    ratio = tension_ratio(friction, wrap, groove)
    carried = max(0.0, installed_tension - mass_per_length * speed**2)
    return 2 * carried * (ratio - 1) / (ratio + 1)


def power_per_rib(power: float, ribs: int) -> float:
    """Return the power that each rib carries, to compare with a belt maker's table.

    Formula: P/n. Inputs: power [W], ribs [-]. Result: power [W].
    Validity: ribs share alike. Errors: ValueError unless there is a rib.
    Source: definition.

    >>> power_per_rib(21e3, 6)
    3500.0
    """
    above_zero(number_of_ribs=ribs)
    not_negative(power=power)
    return power / ribs
