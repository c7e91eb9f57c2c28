"""A figure with its spread, and how spreads pass through a formula without numpy."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, hypot, isnan, log
from typing import Any


@dataclass(frozen=True)
class Band:
    """The value that 10, 50 and 90 of 100 cases stay below, in one SI unit.

    A figure that carries no spread is the band whose three values are equal. An end may be
    infinite (a pump that delivers nothing is infinitely far past its limit), never undefined.
    """

    p10: float
    p50: float
    p90: float

    def __post_init__(self) -> None:
        if any(isnan(v) for v in (self.p10, self.p50, self.p90)):
            raise ValueError("a band cannot hold an undefined number.")
        if not self.p10 <= self.p50 <= self.p90:
            raise ValueError(
                f"a band must not fall from P10 to P90, but is {self.p10}, {self.p50}, {self.p90}."
            )

    @classmethod
    def exact(cls, value: float) -> Band:
        """Return the band of a figure without spread."""
        return cls(value, value, value)

    @classmethod
    def around(cls, value: float, fraction: float) -> Band:
        """Return value (1 -/+ fraction), for a spread stated as a share of the value.

        >>> Band.around(200.0, 0.05)
        Band(p10=190.0, p50=200.0, p90=210.0)
        """
        half = abs(value) * fraction
        return cls(value - half, value, value + half)

    @property
    def is_exact(self) -> bool:
        """Whether the figure carries no spread."""
        return self.p10 == self.p90

    def __add__(self, other: float) -> Band:
        return Band(self.p10 + other, self.p50 + other, self.p90 + other)

    def __mul__(self, factor: float) -> Band:
        ends = sorted((self.p10 * factor, self.p90 * factor))
        return Band(ends[0], self.p50 * factor, ends[1])

    __radd__ = __add__
    __rmul__ = __mul__

    def __neg__(self) -> Band:
        return Band(-self.p90, -self.p50, -self.p10)

    def __sub__(self, other: float) -> Band:
        return self + (-other)

    def __truediv__(self, divisor: float) -> Band:
        return self * (1 / divisor)


def propagate(formula: Callable[..., float], *inputs: Any) -> Band:
    """Return the band of a formula's result from the bands of its inputs.

    Formula: each band is tried at its P10 and P90 with the others at P50; the deviations
    from the middle add in quadrature, upwards and downwards apart. When every result is
    above zero the deviations are taken of the logarithm, so that no flow becomes negative.
    Inputs: formula, its positional inputs; whatever is not a Band is passed as it is.
    Result: Band in the formula's unit. With one uncertain input of a monotone formula it is
    exact for any distribution; for products and powers of independent log-normal inputs
    also. P50 is the formula at the middle of all inputs.
    Validity: independent inputs. Otherwise first order: for four inputs of up to 20 %
    it lies within 3 % of the figure of a Monte-Carlo run (tests/physics/test_band.py).
    Errors: whatever the formula raises.
    Source: law of propagation of uncertainty, JCGM 100 (GUM) section 5.1 (from memory),
    here with the finite changes of P10 and P90 instead of derivatives.

    >>> propagate(lambda a, b: a * b, Band(9.0, 10.0, 11.0), 2.0)
    Band(p10=18.0, p50=20.0, p90=22.0)
    """
    middle = [v.p50 if isinstance(v, Band) else v for v in inputs]
    centre = float(formula(*middle))
    uncertain = [i for i, v in enumerate(inputs) if isinstance(v, Band) and not v.is_exact]
    ends = [
        [
            float(formula(*middle[:i], end, *middle[i + 1 :]))
            for end in (inputs[i].p10, inputs[i].p90)
        ]
        for i in uncertain
    ]
    return _in_quadrature(centre, ends)


def _in_quadrature(centre: float, ends: list[list[float]]) -> Band:
    """Combine the results at each input's two ends into one band round the middle."""
    if min([centre, *(v for pair in ends for v in pair)]) > 0:
        logs = [[log(v / centre) for v in pair] for pair in ends]
        down, up = _reach(logs)
        return Band(centre * exp(-down), centre, centre * exp(up))
    down, up = _reach([[v - centre for v in pair] for pair in ends])
    return Band(centre - down, centre, centre + up)


def _reach(changes: list[list[float]]) -> tuple[float, float]:
    """Return how far all inputs together reach below and above the middle."""
    down = hypot(*(max(0.0, -min(pair)) for pair in changes))
    up = hypot(*(max(0.0, max(pair)) for pair in changes))
    return down, up
