"""Student's t distribution, for small samples of pulls.

Our own, because the library that has it takes longer to load than a comparison takes to work
out; the tests hold it against that library.
"""

from __future__ import annotations

import math
from functools import lru_cache
from statistics import NormalDist

_CLOSE = 1e-15  # relative
_STEPS = 10_000  # of the continued fraction: it needs about the square root of the freedom


def quantile(probability: float, dof: float) -> float:
    """The value below which a share `probability` of the distribution lies.

    `dof` > 0 degrees of freedom, not necessarily whole; infinite for the normal distribution.
    ValueError outside 0 < probability < 1. Found by bisection in `upper_tail`.

    >>> round(quantile(0.975, 4), 3), round(quantile(0.975, math.inf), 3)
    (2.776, 1.96)
    """
    if not (0 < probability < 1 and dof > 0):
        raise ValueError("A t quantile needs a probability between 0 and 1 and dof above 0.")
    if math.isinf(dof):
        return NormalDist().inv_cdf(probability)
    if probability < 0.5:
        return -quantile(1 - probability, dof)
    return _above(1 - probability, dof)


@lru_cache(maxsize=256)
def _above(tail: float, dof: float) -> float:
    """The t >= 0 beyond which a share `tail` <= 0.5 lies."""
    low, high = 0.0, 1.0
    while upper_tail(high, dof) > tail:
        low, high = high, 2 * high
    while high - low > 4 * math.ulp(high):
        middle = (low + high) / 2
        low, high = (middle, high) if upper_tail(middle, dof) > tail else (low, middle)
    return (low + high) / 2


def upper_tail(t: float, dof: float) -> float:
    """The share of the distribution above `t` >= 0.

    P(T > t) = I_x(dof/2, 1/2) / 2 with x = dof / (dof + t^2), where I is the regularised
    incomplete beta function (Abramowitz and Stegun, Handbook of Mathematical Functions,
    26.5.27 and 26.7.1, from memory).

    >>> round(upper_tail(2.776445, 4), 6)
    0.025
    """
    if not (t >= 0 and dof > 0):
        raise ValueError("A tail of Student's t needs t of zero or more and dof above 0.")
    if math.isinf(dof):
        return NormalDist().cdf(-t)
    square = t * t
    return 0.5 * _incomplete_beta(dof / (dof + square), square / (dof + square), dof / 2, 0.5)


def _incomplete_beta(x: float, y: float, a: float, b: float) -> float:
    """I_x(a, b), with y = 1 - x given so that nothing is lost where x is close to one."""
    if x <= 0 or y <= 0:
        return float(x > 0)
    if x > (a + 1) / (a + b + 2):  # there the fraction of the other end converges sooner
        return 1 - _incomplete_beta(y, x, b, a)
    log_front = (
        math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log(y)
    )
    return math.exp(log_front) / (a * _fraction(x, a, b))


def _fraction(x: float, a: float, b: float) -> float:
    """The continued fraction 1 + d1/(1 + d2/(1 + ...)) of I_x (26.5.8, from memory).

    Evaluated forwards by the modified Lentz method.
    """
    value, c, d = 1.0, 1.0, 0.0
    for step in range(1, _STEPS):
        m, odd = divmod(step, 2)
        if odd:
            term = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        else:
            term = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        d = 1 / _not_zero(1 + term * d)
        c = _not_zero(1 + term / c)
        value *= c * d
        if abs(c * d - 1) < _CLOSE:
            break
    return value


def _not_zero(value: float) -> float:
    return value if abs(value) > 1e-300 else 1e-300
