"""Piston-engine geometry, and power, torque and mean effective pressure."""

from __future__ import annotations

from math import pi

from buildlog.physics.numerics.constants import Real


def displacement(bore: float, stroke: float, cylinders: int) -> float:
    """Return the swept volume of all cylinders.

    Formula: V = (pi/4) B^2 S n.
    Inputs: bore B [m], stroke S [m], cylinders n [-].
    Result: swept volume [m^3].
    Validity: any reciprocating piston engine; not rotary engines.
    Errors: ValueError unless every input is above zero.
    Source: definition (Heywood, Internal Combustion Engine Fundamentals, section 2.2;
    from memory).

    >>> round(displacement(0.084, 0.078, 6) * 1e6, 3)  # cm^3
    2593.548
    """
    if bore <= 0 or stroke <= 0 or cylinders <= 0:
        raise ValueError(
            f"bore, stroke and number of cylinders must be above zero, not {bore}, {stroke}, "
            f"{cylinders}."
        )
    return pi / 4 * bore**2 * stroke * cylinders


def mean_piston_speed(stroke: float, omega: Real) -> Real:
    """Return the mean speed of a piston over one turn of the crankshaft.

    Formula: two strokes in each turn, Sp = 2 S n = S omega / pi.
    Inputs: stroke S [m], engine speed omega [rad/s] scalar or array of any shape.
    Result: mean piston speed [m/s], shape of omega.
    Validity: any crank-driven piston engine.
    Errors: ValueError unless the stroke is above zero.
    Source: Heywood, Internal Combustion Engine Fundamentals, eq. 2.9 (from memory);
    a motoring-terms page prints 9 m/s for a stroke of 90 mm at 3000 rpm (opened).

    >>> round(mean_piston_speed(0.090, 3000 * pi / 30), 9)
    9.0
    """
    if stroke <= 0:
        raise ValueError(f"stroke must be above zero, not {stroke} m.")
    return stroke * omega / pi


def torque(power: Real, omega: Real) -> Real:
    """Return the torque that makes a power at an engine speed.

    Formula: T = P / omega.
    Inputs: power P [W], angular speed omega [rad/s]; scalars or arrays of one shape.
    Result: torque [N*m].
    Validity: omega not zero. Errors: ZeroDivisionError for a scalar zero speed.
    Source: definition.

    >>> round(torque(100e3, 5000 * pi / 30), 3)
    190.986
    """
    return power / omega


def power(torque: Real, omega: Real) -> Real:
    """Return the power of a torque at an engine speed.

    Formula: P = T omega.
    Inputs: torque T [N*m], angular speed omega [rad/s]; scalars or arrays of one shape.
    Result: power [W]. Validity: any. Errors: none.
    Source: definition.

    >>> round(power(200.0, 5252.113 * pi / 30))
    110000
    """
    return torque * omega


def bmep(torque: Real, displacement: float) -> Real:
    """Return the brake mean effective pressure of a four-stroke engine.

    Formula: the work of one cycle (two turns) over the swept volume, 4 pi T / V.
    Inputs: torque T [N*m] scalar or array of any shape, displacement V [m^3].
    Result: mean effective pressure [Pa], shape of torque.
    Validity: four-stroke engines only; crank torque gives brake mep, wheel torque
    referred to the crankshaft gives a lower figure that is not brake mep.
    Errors: ValueError unless the displacement is above zero.
    Source: Heywood, Internal Combustion Engine Fundamentals, eq. 2.20 (from memory).

    >>> round(bmep(200.0, 2593.548e-6) / 1e5, 4)  # bar
    9.6905
    """
    if displacement <= 0:
        raise ValueError(f"displacement must be above zero, not {displacement} m^3.")
    return 4 * pi * torque / displacement
