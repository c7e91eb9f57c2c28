"""What measured stages teach the next prediction: a shrinking update of its logarithm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, sqrt

PRIOR_SD = 0.06
"""[-] standard deviation of the shared error of predictions of one induction kind, of the
natural logarithm, before anything was measured (common practice, no source)."""

_PRIOR_RESULTS = 10.0


@dataclass(frozen=True)
class Result:
    """One stage that was predicted and then measured.

    measured and predicted: ratio after/before [-] (predicted: P50); predicted_sd and
    measured_sd: standard deviation of the logarithm of each [-].
    """

    measured: float
    predicted: float
    predicted_sd: float
    measured_sd: float

    @property
    def residual(self) -> float:
        """Natural logarithm of measured over predicted."""
        return log(self.measured / self.predicted)

    @property
    def sd(self) -> float:
        """Standard deviation that the residual should have if the band is honest."""
        return sqrt(self.predicted_sd**2 + self.measured_sd**2)


@dataclass(frozen=True)
class Learned:
    """What to do with the next band: shift its logarithm, and draw it in.

    shift [-] and its standard deviation shift_sd [-]; width [-], at most 1; spread [-] is
    the residuals' own scatter over what the bands promised: above 1 the bands were too
    narrow, which is to be said, not hidden. count: results behind it.
    """

    shift: float
    shift_sd: float
    width: float
    spread: float
    count: int


def learn(results: Sequence[Result], prior_sd: float = PRIOR_SD) -> Learned:
    """Return what past results of one induction kind say about the next prediction.

    Formula: r_i ~ N(b, s_i^2), b ~ N(0, prior_sd^2); posterior mean is the shift. The width
    is sqrt((10 + sum z^2) / (10 + n)) with z = (r - shift)/s, never above 1: ten imagined
    results that agree with the band, then the real ones.
    Inputs: results, standard deviation of the prior [-]. Result: Learned; without results
    shift 0, width 1. Validity: stages of one induction kind, changes large against scatter.
    Errors: ValueError for a result without spread.
    Source: conjugate normal update, any text on Bayesian statistics; the width rule is this
    project's.

    >>> learned = learn([Result(1.30, 1.40, 0.08, 0.02)] * 3)
    >>> round(learned.shift, 4), learned.count
    (-0.0455, 3)
    """
    if any(not r.sd > 0 for r in results):
        raise ValueError("a past result needs a spread above zero to be weighed.")
    precision = prior_sd**-2 + sum(r.sd**-2 for r in results)
    shift = sum(r.residual / r.sd**2 for r in results) / precision
    squares = sum(((r.residual - shift) / r.sd) ** 2 for r in results)
    spread = sqrt((_PRIOR_RESULTS + squares) / (_PRIOR_RESULTS + len(results)))
    return Learned(shift, precision**-0.5, min(spread, 1.0), spread, len(results))


def adjust(ratio: float, middle: float, learned: Learned) -> float:
    """Return a quantile of a predicted ratio after learning.

    Formula: ln r' = ln m + shift + width (ln r - ln m), m the middle (P50) of the raw band.
    Inputs: raw quantile [-], raw P50 [-], Learned. Result: adjusted quantile [-].
    Validity: a stage that changes something; a plan without change keeps exactly 1.
    Errors: none. Source: as `learn`.

    >>> round(adjust(1.5, 1.4, Learned(0.0, 0.06, 1.0, 1.0, 0)), 9)
    1.5
    """
    return middle * exp(learned.shift + learned.width * log(ratio / middle))
