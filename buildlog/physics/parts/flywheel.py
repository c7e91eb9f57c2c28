"""Stress of a rotating ring."""

from __future__ import annotations

from buildlog.physics.numerics.arguments import above_zero, not_negative


def ring_stress(omega: float, radius: float, density: float) -> float:
    """Return the hoop stress of a thin rotating ring, a flywheel's rim on its own.

    Formula: sigma = rho v^2, v = omega r.
    Inputs: omega [rad/s], mean radius r [m], density rho [kg/m^3].
    Result: stress [Pa].
    Validity: thin ring not held by its web; no holes, bolts or thermal stress. An upper
    bound on speed only: real castings fail earlier.
    Errors: ValueError unless radius and density are above zero.
    Source: Mechanical Engineer's Data Handbook, section 1.2.7, p. 15 (opened).

    >>> round(ring_stress(837.758, 0.15, 7200) / 1e6, 2)  # 8000 rpm, MPa
    113.7
    """
    above_zero(radius=radius, density=density)
    not_negative(speed=omega)
    return density * (omega * radius) ** 2
