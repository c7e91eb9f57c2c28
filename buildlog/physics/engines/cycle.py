"""What one cycle makes of its charge: mixture, spark, compression, residual gas, friction."""

from __future__ import annotations

from math import pi
from typing import Any

from buildlog.physics.numerics.constants import Real

GAMMA_HOT = 1.35
"""[-] ratio of specific heats of the residual gas (handbook value for about 900 K; from memory)."""

LEANEST, RICHEST = 1.05, 0.75
"""[-] lambda between which the torque against mixture curve was fitted."""

FRICTION_PER_PEAK_PRESSURE = 0.005
"""[-] rise of friction mep with peak cylinder pressure, bar per bar.

Slope of Chen and Flynn, SAE 650733 (from memory, not opened); only the slope is used.
"""

_A, _B, _C = -1.1536, 2.6954, -0.5695
_MIXTURE_BEST = _C - _B**2 / (4 * _A)


def mixture_factor(lambda_: Real) -> Real:
    """Return torque relative to the best mixture at the same air.

    Formula: f = (-1.1536 phi^2 + 2.6954 phi - 0.5695) / max, phi = 1/lambda.
    Inputs: lambda [-], scalar or array. Result: factor [-], 1 at lambda 0.856.
    Validity: lambda 0.75 to 1.05, gasoline at full load; outside it the parabola is only
    an extrapolation. Errors: none.
    Source: a blog's fit to curves in Stone, Introduction to Internal Combustion Engines,
    chapter 4 (secondary; the page calls its variable AFR/14.7, but the curve makes sense
    only in phi).

    >>> [round(mixture_factor(x), 3) for x in (0.75, 0.85, 1.0)]
    [0.969, 1.0, 0.968]
    """
    phi = 1 / lambda_
    return (_A * phi**2 + _B * phi + _C) / _MIXTURE_BEST


def spark_factor(retard: Real, loss_at_ten_degrees: Real) -> Real:
    """Return torque relative to best spark timing.

    Formula: 1 - k dtheta^2 with k set by the loss at ten degrees.
    Inputs: retard from best timing [rad], loss at 10 degrees [-] (0.03 to 0.06).
    Result: factor [-]. Validity: up to about 20 degrees. Errors: none.
    Source: shape of Heywood section 15.2 (from memory).

    >>> from math import pi
    >>> round(spark_factor(10 * pi / 180, 0.045), 6)
    0.955
    """
    return 1 - loss_at_ten_degrees * (retard * (18 / pi)) ** 2


def compression_factor(ratio: Real, gamma: Real) -> Real:
    """Return the efficiency that a fuel-air cycle has by its compression ratio.

    Formula: 1 - r^(1 - gamma_eff). Use only the RATIO of two values.
    Inputs: compression ratio r [-], effective gamma [-] (1.25 to 1.30 for a fuel-air cycle).
    Result: efficiency [-]. Validity: r 6 to 15, spark ignition. Errors: none.
    Source: Otto cycle, exact; fuel-air exponent Heywood section 5.5, Taylor (from memory).

    >>> round(compression_factor(9.8, 1.27) / compression_factor(9.4, 1.27) - 1, 4)
    0.0135
    """
    result: Real = 1 - ratio ** (1 - gamma)
    return result


def residual_factor(exhaust: Real, manifold: Real, compression_ratio: Real) -> Real:
    """Return trapped charge relative to equal exhaust and manifold pressures.

    Formula: 1 + (1 - pe/p) / [gamma (r - 1)], the residual gas of an ideal four-stroke.
    Inputs: exhaust pressure pe [Pa], manifold pressure p [Pa], compression ratio r [-].
    Result: factor [-], 1 when pe = p. Validity: no valve overlap scavenging, r above 5.
    Errors: none. Source: ideal four-stroke cycle; Heywood section 6.2 (from memory).

    >>> residual_factor(100e3, 100e3, 9.0)
    1.0
    """
    return 1 + (1 - exhaust / manifold) / (GAMMA_HOT * (compression_ratio - 1))


def motoring_friction(omega: Real) -> Real:
    """Return the motoring friction mep at full throttle, pumping included.

    Formula: fmep = 0.97 + 0.15 (N/1000) + 0.05 (N/1000)^2 bar, N in rev/min.
    Inputs: engine speed [rad/s]. Result: fmep [Pa].
    Validity: small four-cylinder engines of 845 to 2000 cm^3 of their day; the rubbing
    share is taken from it by a stated factor. Errors: none.
    Source: Heywood chapter 13 after Barnes-Moss (secondary; equation number from memory).

    >>> from math import pi
    >>> round(motoring_friction(5000 * pi / 30) / 1e5, 2)
    2.97
    """
    thousands = omega * (30 / pi / 1000)
    return 1e5 * (0.97 + 0.15 * thousands + 0.05 * thousands**2)


def typical_full_load_power(omega: Real, rated_power: float, rated_omega: float) -> Real:
    """Return a typical full-load curve of an unboosted engine from its rated point.

    Formula: P = P_rated (x + x^2 - x^3), x = omega/omega_rated.
    Inputs: engine speed [rad/s], rated power [W], speed of rated power [rad/s].
    Result: crank power [W]. Validity: x 0.3 to 1.15, unboosted spark ignition; an estimate
    for a car that was never measured, to be labelled so.
    Errors: ValueError unless both rated values are above zero.
    Source: polynomial common in vehicle-dynamics texts (from memory).

    >>> typical_full_load_power(600.0, 1e5, 600.0)
    100000.0
    """
    if rated_power <= 0 or rated_omega <= 0:
        raise ValueError(
            f"rated power and speed must be above zero, not {rated_power} W at {rated_omega} rad/s."
        )
    x: Any = omega / rated_omega
    result: Real = rated_power * (x + x**2 - x**3)
    return result
