"""What measured stages teach the next prediction: a shrinking update of its logarithm.

A result is a stage that was predicted and then measured. Results of one induction kind share
an error; how much of it is known grows slowly with their number.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, hypot, log, sqrt
from statistics import stdev

from buildlog.physics.numerics.constants import Real

PRIOR_SD = 0.06
"""[-] standard deviation of the shared error of predictions of one induction kind, of the
natural logarithm, before anything was measured (common practice, no source)."""

FULL_SD = 0.06
"""[-] standard deviation of the logarithm of a predicted ratio at which the shared error counts
in full. It is taken to grow in proportion to what the band itself leaves open: a stage of
which nothing is uncertain, and so one that changes nothing, has nothing to learn (this
project's rule). Blown stages have about this much, which is also PRIOR_SD."""

_PRIOR_RESULTS = 10.0
_P90 = 1.2815515655446004
"""[-] standard normal deviate of P90 (tables of the normal distribution)."""


@dataclass(frozen=True)
class Result:
    """One predicted and measured stage: ratios after/before [-]; measured_sd: standard
    deviation of the logarithm of the measured ratio [-]."""

    measured: float
    p10: float
    p50: float
    p90: float
    measured_sd: float

    @property
    def residual(self) -> float:
        """Natural logarithm of measured over predicted."""
        return log(self.measured / self.p50)

    @property
    def sd(self) -> float:
        """Standard deviation that the residual should have if the band is honest."""
        return hypot(band_sd(self.p10, self.p90), self.measured_sd)

    @property
    def reach(self) -> float:
        """How much of the shared error a stage with such a band carries [-]."""
        return reach(self.p10, self.p90)

    @property
    def inside(self) -> bool:
        """Whether the measured value lies in P10 to P90 widened by its own scatter."""
        low, high = with_scatter(self.p10, self.p50, self.p90, self.measured_sd)
        return low <= self.measured <= high


@dataclass(frozen=True)
class Learned:
    """What to do with the next band: shift its logarithm, and draw it in or let it out.

    shift [-], for a band of FULL_SD, and its standard deviation shift_sd [-];
    width [-] is spread [-], the residuals' scatter over what the bands promised: above 1 the bands
    were too narrow, and the next one is wider. count: results behind it.
    """

    shift: float
    shift_sd: float
    width: float
    spread: float
    count: int


def with_scatter(p10: float, p50: float, p90: float, sd: float) -> tuple[float, float]:
    """Return P10 and P90 of what will be measured, scatter included.

    Formula: half-widths of the logarithm in quadrature, sqrt(ln(p50/p10)^2 + (1.28 sd)^2).
    Inputs: quantiles of a ratio [-], standard deviation sd of the logarithm of a measured
    ratio [-]. Result: (P10, P90) [-]. Validity: scatter independent of the prediction.
    Errors: none. Source: sum of independent deviations.

    >>> low, high = with_scatter(1.3, 1.4, 1.5, 0.0)
    >>> round(low, 9), round(high, 9)
    (1.3, 1.5)
    """
    return p50 / _spread(p50 / p10, sd), p50 * _spread(p90 / p50, sd)


def _spread(ratio: float, sd: float) -> float:
    return exp(sqrt(log(ratio) ** 2 + (_P90 * sd) ** 2))


def learn(results: Sequence[Result], prior_sd: float = PRIOR_SD) -> Learned:
    """Return what past results of one induction kind say about the next prediction.

    Formula: r_i ~ N(b x_i, s_i^2), b ~ N(0, prior_sd^2), x = band sd / 0.06; the posterior
    mean of b is the shift. The width is sqrt((10 + sum z^2) / (10 + n)) with
    z = (r - shift x)/s: ten imagined results that agree with the band, then the real ones. It
    grows as well as shrinks.
    Inputs: results, standard deviation of the prior [-]. Result: Learned; without results
    shift 0, width 1. Validity: stages of one induction kind.
    Errors: ValueError for a result without spread.
    Source: conjugate normal update, any text on Bayesian statistics; the width rule is this
    project's.

    >>> learned = learn([Result(1.30, 1.26, 1.40, 1.55, 0.02)] * 3)
    >>> round(learned.shift, 4), learned.count
    (-0.0406, 3)
    """
    if any(not r.sd > 0 for r in results):
        raise ValueError("a past result needs a spread above zero to be weighed.")
    count = len(results)
    precision = prior_sd**-2 + sum((r.reach / r.sd) ** 2 for r in results)
    shift = sum(r.reach * r.residual / r.sd**2 for r in results) / precision
    squares = sum(((r.residual - shift * r.reach) / r.sd) ** 2 for r in results)
    spread = sqrt((_PRIOR_RESULTS + squares) / (_PRIOR_RESULTS + count))
    return Learned(shift, precision**-0.5, spread, spread, count)


def band_sd(p10: float, p90: float) -> float:
    """Return the standard deviation of the logarithm of a ratio with this band [-].

    Formula: ln(p90/p10) / 2.563. Inputs: quantiles of a ratio [-], above zero.
    Validity: near to a log-normal band. Errors: none. Source: normal distribution, tables.

    >>> band_sd(1.0, 1.0)
    0.0
    """
    return log(p90 / p10) / (2 * _P90)


def reach(p10: float, p90: float) -> float:
    """Return how much of the shared error a stage with this band carries [-].

    Formula: band sd / 0.06. Inputs: quantiles of a predicted ratio [-].
    Validity and errors: above zero. Source: this project's rule.

    >>> reach(1.0, 1.0), round(reach(1.3, 1.3 * 1.1663), 3)
    (0.0, 1.0)
    """
    return band_sd(p10, p90) / FULL_SD


def adjust(quantile: Real, middle: Real, carried: float, learned: Learned) -> Real:
    """Return a quantile of a predicted ratio after learning.

    Formula: m exp(shift carried) (q/m)^width.
    Inputs: raw quantile q [-] and raw P50 m [-], scalars or curves; how much of the shared
    error the stage carries (`reach` of its peak-power ratio) [-]; Learned. Result: adjusted
    quantile [-].
    Validity: ratios above zero. Errors: none. Source: as `learn`.

    >>> round(adjust(1.5, 1.4, 1.0, Learned(0.0, 0.06, 1.0, 1.0, 0)), 9)
    1.5
    """
    result: Real = middle * exp(learned.shift * carried) * (quantile / middle) ** learned.width
    return result


def adjusted(result: Result, learned: Learned) -> Result:
    """Return a result with the band it would have had after learning."""
    low, middle, high = (
        adjust(q, result.p50, result.reach, learned) for q in (result.p10, result.p50, result.p90)
    )
    return Result(result.measured, low, middle, high, result.measured_sd)


@dataclass(frozen=True)
class BackTest:
    """How past bands did: share inside P10 to P90 (0.80 if honest), bias (mean logarithm of
    measured over predicted), width (mean logarithm of P90 over P10), number of results;
    bias_error: standard error of the bias, from the results' own scatter; None for one."""

    inside: float
    bias: float
    width: float
    count: int
    bias_error: float | None


def back_test(results: Sequence[Result]) -> BackTest:
    """Return coverage, bias and width of past bands.

    Inputs: results, raw or adjusted. Result: BackTest. Validity: few results say little:
    with 10, a coverage of 0.8 is known to about +-0.25.
    Errors: ValueError without results. Source: definitions.

    >>> back_test([Result(1.4, 1.3, 1.4, 1.5, 0.02)]).inside
    1.0
    """
    if not results:
        raise ValueError("there are no measured stages to test past predictions on.")
    count = len(results)
    residuals = [r.residual for r in results]
    return BackTest(
        sum(r.inside for r in results) / count,
        sum(residuals) / count,
        sum(log(r.p90 / r.p10) for r in results) / count,
        count,
        stdev(residuals) / sqrt(count) if count > 1 else None,
    )


def in_sequence(results: Sequence[Result]) -> list[Result]:
    """Return each result with the band that learning from the EARLIER ones would have given."""
    return [adjusted(r, learn(results[:i])) for i, r in enumerate(results)]
