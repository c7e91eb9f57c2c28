"""Torque that a disc clutch can pass."""

from __future__ import annotations

from buildlog.physics.numerics.arguments import above_zero, not_negative


def _check_ring(outer_diameter: float, inner_diameter: float) -> None:
    above_zero(outer_diameter=outer_diameter, inner_diameter=inner_diameter)
    if inner_diameter >= outer_diameter:
        raise ValueError(
            f"the inner diameter of the facing ({inner_diameter} m) must be smaller than the "
            f"outer ({outer_diameter} m)."
        )


def capacity_uniform_wear(
    friction: float,
    clamp_force: float,
    outer_diameter: float,
    inner_diameter: float,
    faces: int,
) -> float:
    """Return the torque at which a worn-in clutch slips.

    Formula: T = n mu F (D + d)/4.
    Inputs: friction coefficient mu [-], clamp_force F [N], outer and inner facing diameter
    D, d [m], friction faces n [-] (one disc has 2).
    Result: torque [N*m].
    Validity: flat dry facings, worn in; the lower of the two classic assumptions.
    Errors: ValueError unless every input is above zero and d < D.
    Source: Shigley, Mechanical Engineering Design, section 16-5 (from memory). Worked example
    11.6 of Bhandari, Design of Machine Elements (opened as companion solutions; title inferred).

    >>> round(capacity_uniform_wear(0.35, 7200.0, 0.250, 0.175, 2) / 250, 6)
    2.142
    """
    above_zero(friction_coefficient=friction, clamp_force=clamp_force, friction_faces=faces)
    _check_ring(outer_diameter, inner_diameter)
    return faces * friction * clamp_force * (outer_diameter + inner_diameter) / 4


def usable_torque(capacity: float, service_factor: float) -> float:
    """Return the engine torque that a computed clutch capacity is good for.

    Formula: capacity over service factor, which stands for heat and the shocks of shifting.
    Inputs: capacity [N*m] by the formula above, service_factor [-].
    Result: torque [N*m].
    Validity: a capacity computed from geometry; a supplier's rating has its reserve in it.
    Errors: ValueError for a negative capacity or a factor below 1.
    Source: factor 1.2 to 1.5 road, 1.5 to 2 standing starts: common practice, no source.

    >>> usable_torque(375.0, 1.25)
    300.0
    """
    if not service_factor >= 1:
        raise ValueError(f"the service factor must be 1 or more, not {service_factor}.")
    not_negative(capacity=capacity)
    return capacity / service_factor
