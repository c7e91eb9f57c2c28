"""Torque that a disc clutch can pass, and the heat of engaging it."""

from __future__ import annotations

from math import pi

from buildlog.physics.checks import above_zero, not_negative


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


def capacity_uniform_pressure(
    friction: float,
    clamp_force: float,
    outer_diameter: float,
    inner_diameter: float,
    faces: int,
) -> float:
    """Return the torque at which a new clutch slips.

    Formula: T = n (mu F/3) (D^3 - d^3)/(D^2 - d^2).
    Inputs, errors: as capacity_uniform_wear.
    Result: torque [N*m], never below that of uniform wear (equal for a thin ring).
    Validity: flat dry facings before they have worn in.
    Source: Shigley, Mechanical Engineering Design, section 16-5 (from memory); example 11.6
    as above.

    >>> round(capacity_uniform_pressure(0.35, 7200.0, 0.250, 0.175, 2) / 250, 6)
    2.164235
    """
    above_zero(friction_coefficient=friction, clamp_force=clamp_force, friction_faces=faces)
    _check_ring(outer_diameter, inner_diameter)
    d, i = outer_diameter, inner_diameter
    return faces * friction * clamp_force / 3 * (d**3 - i**3) / (d**2 - i**2)


def clamp_force_at_pressure(
    peak_pressure: float, outer_diameter: float, inner_diameter: float
) -> float:
    """Return the clamp force at which a worn-in facing reaches a peak pressure.

    Formula: uniform wear has its peak at the inner edge, F = pi p d (D - d)/2.
    Inputs: peak_pressure p [Pa], outer and inner facing diameter D, d [m].
    Result: clamp force [N]. Validity: worn-in facings.
    Errors: ValueError unless every input is above zero and d < D.
    Source: Shigley, section 16-5 (from memory); example 11.1 of Bhandari (companion solutions).

    >>> round(clamp_force_at_pressure(1e6, 0.200, 0.100), 3)
    15707.963
    """
    above_zero(peak_pressure=peak_pressure)
    _check_ring(outer_diameter, inner_diameter)
    return pi * peak_pressure * inner_diameter * (outer_diameter - inner_diameter) / 2


def capacity_pressure_limited(
    friction: float,
    peak_pressure: float,
    outer_diameter: float,
    inner_diameter: float,
    faces: int,
) -> float:
    """Return the torque that a facing may pass at its permissible pressure.

    Formula: T = n pi mu p d (D^2 - d^2)/8, which is uniform wear at the force of that
    pressure.
    Inputs: friction mu [-], peak_pressure p [Pa], diameters D, d [m], faces n [-].
    Result: torque [N*m]. Validity, errors: as capacity_uniform_wear.
    Source: Shigley, section 16-5 (from memory); example 11.1 of Bhandari (companion solutions).

    >>> round(capacity_pressure_limited(0.2, 1e6, 0.200, 0.100, 1), 6)
    235.619449
    """
    force = clamp_force_at_pressure(peak_pressure, outer_diameter, inner_diameter)
    return capacity_uniform_wear(friction, force, outer_diameter, inner_diameter, faces)


def mean_pressure(clamp_force: float, outer_diameter: float, inner_diameter: float) -> float:
    """Return the clamp force over the facing area, to compare with a facing's usual range.

    Formula: p = 4 F/(pi (D^2 - d^2)).
    Inputs: clamp_force F [N], diameters D, d [m]. Result: pressure [Pa].
    Validity: any. Errors: ValueError unless every input is above zero and d < D.
    Source: definition.

    >>> round(mean_pressure(10e3, 10.5 * 0.0254, 7.0 * 0.0254) / 1e3)
    322
    """
    above_zero(clamp_force=clamp_force)
    _check_ring(outer_diameter, inner_diameter)
    return 4 * clamp_force / (pi * (outer_diameter**2 - inner_diameter**2))


def wear_to_slip(spring_compression: float, reserve: float) -> float:
    """Return the facing wear after which the springs no longer hold the torque.

    Formula: linear springs lose force with travel, x (1 - 1/reserve).
    Inputs: spring_compression x when new [m], reserve: capacity over torque [-].
    Result: wear [m], zero if there is no reserve.
    Validity: coil springs; a diaphragm spring first GAINS force with wear.
    Errors: ValueError unless both are above zero.
    Source: example 11.6 of Bhandari (companion solutions): 5 mm and 2.142 give 2.665733 mm.

    >>> round(wear_to_slip(5.0, 2.142), 4)
    2.6657
    """
    above_zero(spring_compression=spring_compression, reserve=reserve)
    return max(0.0, spring_compression * (1 - 1 / reserve))


def usable_torque(capacity: float, service_factor: float) -> float:
    """Return the engine torque that a computed clutch capacity is good for.

    Formula: capacity over service factor, which stands for heat and the shocks of shifting.
    Inputs: capacity [N*m] by one of the formulas above, service_factor [-].
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


def engagement_energy(engine_inertia: float, vehicle_inertia: float, slip: float) -> float:
    """Return the heat of engaging a clutch without throttle.

    Formula: E = (1/2) Ie Iv/(Ie + Iv) w^2: the kinetic energy lost when two inertias meet.
    Inputs: both inertias at the clutch [kg*m^2], slip w: difference of speed [rad/s].
    Result: energy [J]. Validity: no torque from the engine while it slips, so a lower bound.
    Errors: ValueError unless both inertias are above zero.
    Source: conservation of momentum; Shigley, section 16-8 (from memory).

    >>> round(engagement_energy(0.25, 1.067, 3000 * pi / 30) / 1000, 2)  # kJ
    9.99
    """
    above_zero(engine_inertia=engine_inertia, vehicle_inertia=vehicle_inertia)
    reduced = engine_inertia * vehicle_inertia / (engine_inertia + vehicle_inertia)
    return reduced * slip**2 / 2
