"""Shear stress and critical speed of a driveshaft (a round tube or a solid bar)."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi, sqrt

from buildlog.physics.numerics.arguments import above_zero, not_negative


@dataclass(frozen=True)
class ShaftMaterial:
    """Young's modulus [Pa] and density [kg/m^3]; strength is a matter of the part, not here."""

    youngs_modulus: float
    density: float


# Handbook values (from memory). Carbon tubes depend on their lay-up: state a speed limit.
MATERIALS = {
    "steel": ShaftMaterial(207e9, 7850.0),
    "aluminium": ShaftMaterial(69e9, 2700.0),
}


def inner_diameter(outer_diameter: float, wall: float) -> float:
    """Return the inner diameter of a tube; a wall of half the diameter is a solid bar.

    Formula: d = D - 2 t.
    Inputs: outer diameter D [m], wall t [m]. Result: inner diameter [m].
    Validity: round tubes. Errors: ValueError unless D and t are above zero and 2 t <= D.
    Source: definition.

    >>> round(inner_diameter(0.0762, 0.00165), 4)
    0.0729
    """
    above_zero(outer_diameter=outer_diameter, wall=wall)
    if 2 * wall > outer_diameter:
        raise ValueError(
            f"a wall of {wall} m does not fit into an outer diameter of {outer_diameter} m."
        )
    return outer_diameter - 2 * wall


def shear_stress(torque: float, outer_diameter: float, wall: float) -> float:
    """Return the shear stress at the surface of a twisted tube.

    Formula: tau = 16 T D/(pi (D^4 - d^4)).
    Inputs: torque T at the shaft [N*m], outer diameter D [m], wall [m].
    Result: stress [Pa].
    Validity: away from welds, yokes and keyways, where it is higher; steady torque.
    Errors: ValueError for a negative torque or an impossible tube.
    Source: Shigley, Mechanical Engineering Design, eq. 3-37 (from memory).

    >>> round(shear_stress(430 * 3.38, 0.0762, 0.00165) / 1e6, 1)  # MPa
    103.1
    """
    not_negative(torque=torque)
    d = inner_diameter(outer_diameter, wall)
    return 16 * torque * outer_diameter / (pi * (outer_diameter**4 - d**4))


def critical_speed(
    length: float, outer_diameter: float, wall: float, material: ShaftMaterial
) -> float:
    """Return the speed at which a shaft whirls.

    Formula: first bending frequency of an evenly loaded beam on simple supports,
    omega = (pi/L)^2 sqrt(E I/(rho A)), I = pi (D^4 - d^4)/64.
    Inputs: length L between joints [m], outer diameter D [m], wall [m], material.
    Result: angular speed [rad/s].
    Validity: slender tubes, stiff supports; soft mounts and unbalance lower it, so shafts are
    run to 65 to 75 % of it (common practice, no source).
    Errors: ValueError unless every input is above zero and the tube is possible.
    Source: beam theory; Shigley, section 7-6 (eq. 7-23 secondary). A published example of
    a steel tube 45 in long, 3.5 x 0.083 in, gives 11,390 rpm (opened).

    >>> w = critical_speed(45 * 0.0254, 3.5 * 0.0254, 0.083 * 0.0254, MATERIALS["steel"])
    >>> abs(w * 30 / pi - 11390) < 23
    True
    """
    above_zero(length=length)
    d = inner_diameter(outer_diameter, wall)
    # sqrt(I/A) of a tube, the radius of gyration, is sqrt(D^2 + d^2)/4.
    gyration = sqrt(outer_diameter**2 + d**2) / 4
    return (pi / length) ** 2 * gyration * sqrt(material.youngs_modulus / material.density)
