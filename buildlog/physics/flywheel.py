"""Stress of rotating rings and discs."""

from __future__ import annotations

from math import sqrt

from buildlog.physics.checks import above_zero, not_negative


def _check(radius: float, density: float, poisson: float) -> None:
    above_zero(outer_radius=radius, density=density)
    if not 0 <= poisson <= 0.5:
        raise ValueError(f"Poisson's ratio must be 0 to 0.5, not {poisson}.")


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
    _check(radius, density, 0.0)
    not_negative(speed=omega)
    return density * (omega * radius) ** 2


def disc_stress(omega: float, radius: float, density: float, poisson: float) -> float:
    """Return the stress at the centre of a solid rotating disc.

    Formula: sigma = (3 + nu) rho v^2/8.
    Inputs: omega [rad/s], outer radius [m], density rho [kg/m^3], Poisson's ratio nu [-].
    Result: stress [Pa]. Validity: thin disc of even thickness without a hole.
    Errors: ValueError unless radius and density are above zero and nu is 0 to 0.5.
    Source: Mechanical Engineer's Data Handbook, section 1.2.7, p. 15 (opened).

    >>> round(disc_stress(837.758, 0.15, 7200, 0.27) / 1e6, 2)
    46.47
    """
    _check(radius, density, poisson)
    return (3 + poisson) * ring_stress(omega, radius, density) / 8


def annulus_stress(
    omega: float,
    outer_radius: float,
    inner_radius: float,
    density: float,
    poisson: float,
) -> float:
    """Return the stress at the bore of a rotating disc with a central hole.

    Formula: sigma = (rho omega^2/4) [(3 + nu) ro^2 + (1 - nu) ri^2].
    Inputs: omega [rad/s], outer and inner radius [m], density rho [kg/m^3], nu [-].
    Result: stress [Pa]: twice the solid disc's for a tiny hole, the thin ring's for ri = ro.
    Validity: thin disc of even thickness; no bolt holes.
    Errors: ValueError unless radii and density are above zero, ri < ro and nu is 0 to 0.5.
    Source: Roark, Formulas for Stress and Strain, rotating discs (from memory).

    >>> round(annulus_stress(837.758, 0.15, 0.05, 7200, 0.27) / 1e6, 2)
    95.25
    """
    _check(outer_radius, density, poisson)
    above_zero(inner_radius=inner_radius)
    not_negative(speed=omega)
    if inner_radius >= outer_radius:
        raise ValueError(
            f"the inner radius ({inner_radius} m) must be smaller than the outer "
            f"({outer_radius} m)."
        )
    shape = (3 + poisson) * outer_radius**2 + (1 - poisson) * inner_radius**2
    return density * omega**2 / 4 * shape


def speed_at_stress(limit: float, stress: float, omega: float) -> float:
    """Return the speed at which a rotating part reaches a stress; the inverse of the others.

    Formula: stress grows with speed squared, omega sqrt(limit/stress).
    Inputs: limit [Pa], stress [Pa] at the speed omega [rad/s].
    Result: speed [rad/s]. Validity: that of the stress.
    Errors: ValueError unless every input is above zero.
    Source: all three formulas above.

    >>> round(speed_at_stress(220e6, 95.25e6, 8000.0), -1)
    12160.0
    """
    above_zero(stress_limit=limit, stress=stress, speed=omega)
    return omega * sqrt(limit / stress)
