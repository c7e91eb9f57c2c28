"""Back-pressure of an exhaust, scaled from a known one."""

from __future__ import annotations

from buildlog.physics.numerics.arguments import above_zero, not_negative


def scaled(
    known_drop: float,
    known_flow: float,
    flow: float,
    resistance_ratio: float = 1.0,
) -> float:
    """Return the back-pressure at another mass flow, through another or the same exhaust.

    Formula: turbulent loss, dp2 = dp1 k (m2/m1)^2.
    Inputs: known_drop dp1 [Pa] at known_flow m1 [kg/s], flow m2 [kg/s], resistance_ratio k:
    loss of the new exhaust over the old at equal flow [-].
    Result: gauge pressure [Pa].
    Validity: gas temperature as before; catalysts flow partly laminar, so that this overstates
    the growth where they dominate.
    Errors: ValueError unless both flows and k are above zero, or for a negative drop.
    Source: turbulent loss law (from memory).

    >>> round(scaled(24e3, 0.225, 0.33) / 1e3, 1)  # kPa
    51.6
    """
    not_negative(known_drop=known_drop, flow=flow)
    above_zero(known_flow=known_flow, resistance_ratio=resistance_ratio)
    return known_drop * resistance_ratio * (flow / known_flow) ** 2
