"""Scatter of pulls, and what it allows one to say about a difference.

Scatter s_r is relative (0.008 = 0.8 %) and pooled along the curve and over groups.
Degrees of freedom are counted per PULL (n - 1 per group, summed): points along one
smoothed curve move together and are not independent measurements.
Sources: ISO 5725-6 for the limits (2.8 s_r) [secondary]; W. S. Gosset's t in any
statistics text; the default differences are common practice.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from buildlog.physics.numerics import student
from buildlog.physics.numerics.regression import Floats

Z95 = 1.959963984540054  # two-sided 95 % point of the normal distribution
TYPICAL_SCATTER = 0.01  # one pull alone on an unknown dyno; common practice, no source
LEAST_SHARE = 0.3  # of the highest power: lower places do not count for scatter
SEED = 20261125  # fixed, so that the same pulls always give the same band


@dataclass(frozen=True)
class Scatter:
    """Relative standard deviation of a single pull, and what it rests on.

    `dof` is infinite for a typical value, which is not an estimate from these pulls.
    """

    s: float
    dof: float
    pulls: int
    groups: int
    basis: Literal["measured", "typical"] = "measured"


@dataclass(frozen=True)
class DifferenceSource:
    """One reason why two measurements differ besides the car: 1 sigma, relative.

    `dof`: degrees of freedom where it was measured; infinite where it is stated. `basis` says
    what the figure rests on, where `text` does not.
    """

    key: str
    text: str
    u: float
    dof: float = math.inf
    basis: str = ""

    @property
    def u_normal(self) -> float:
        """Standard deviation of a normal quantity with the same 95 % half-width, relative."""
        return self.u * (
            student.quantile(0.975, self.dof) / Z95 if math.isfinite(self.dof) else 1.0
        )


DIFFERENCE_DEFAULTS: Mapping[str, DifferenceSource] = {
    key: DifferenceSource(key, text, u, basis="common practice")
    for key, text, u in (
        ("same visit", "same visit to the same dyno", 0.0),
        ("another day", "another day on the same dyno", 0.015),
        ("another dyno", "another dyno", 0.05),
        ("another gear", "another gear", 0.01),
        ("tire pressure or strapping", "tire pressure or strapping not recorded", 0.01),
    )
}  # one standard deviation of a DIFFERENCE; common practice, no source


def pooled_scatter(groups: Iterable[ArrayLike]) -> Scatter | None:
    """s_r = sqrt(sum (n_i - 1) s_i^2 / sum (n_i - 1)), s_i^2 averaged along the curve.

    Input: groups, each (n_pulls, g) of power on one grid [W], NaN where a pull has no
    data; only places that every pull of the group covers count. Groups of one pull add
    nothing. Result: Scatter, or None when no group has two pulls.

    >>> pooled_scatter([[[99.0, 198.0], [101.0, 202.0]], [[100.0, 200.0]]])
    Scatter(s=0.0141421356, dof=1, pulls=3, groups=2, basis='measured')
    """
    total, dof, pulls, count = 0.0, 0, 0, 0
    for group in groups:
        curves = _common(group)
        pulls, count = pulls + len(curves), count + 1
        if len(curves) > 1:
            relative = curves / curves.mean(axis=0)
            total += (len(curves) - 1) * float(relative.var(axis=0, ddof=1).mean())
            dof += len(curves) - 1
    return Scatter(math.sqrt(total / dof), dof, pulls, count) if dof else None


def copied_pulls(group: ArrayLike) -> tuple[tuple[int, int], ...]:
    """Pairs of pulls (n, g) that are identical: one recording read twice has no scatter.

    >>> copied_pulls([[1.0, 2.0], [1.0, 2.1], [1.0, 2.0]])
    ((0, 2),)
    """
    curves = np.atleast_2d(np.asarray(group, dtype=np.float64))
    pairs = [(i, j) for i in range(len(curves)) for j in range(i + 1, len(curves))]
    return tuple((i, j) for i, j in pairs if np.array_equal(curves[i], curves[j], equal_nan=True))


def combine_scatter(scatters: Iterable[Scatter]) -> Scatter | None:
    """Pool scatters of several visits of one dyno, weighted by degrees of freedom.

    >>> combine_scatter([Scatter(0.01, 2, 3, 1), Scatter(0.005, 4, 6, 2)])
    Scatter(s=0.0070710678, dof=6, pulls=9, groups=3, basis='measured')
    """
    known = [s for s in scatters if s.basis == "measured" and s.dof > 0]
    if not known:
        return None
    dof = sum(s.dof for s in known)
    square = sum(s.dof * s.s**2 for s in known) / dof
    return Scatter(
        math.sqrt(square), dof, sum(s.pulls for s in known), sum(s.groups for s in known)
    )


def typical_scatter() -> Scatter:
    """The scatter to take for one pull on a dyno nothing is known of: 1 %, common practice."""
    return Scatter(TYPICAL_SCATTER, math.inf, 1, 1, "typical")


def _common(group: ArrayLike) -> Floats:
    """The curves of a group over the places that all of them cover."""
    curves = np.atleast_2d(np.asarray(group, dtype=np.float64))
    shared = np.isfinite(curves).all(axis=0)
    if not shared.any():
        raise ValueError("The pulls of this group have no range in common.")
    common = curves[:, shared]
    # Lower is the foot or the run-out of a pull, where a share says nothing.
    high = (common > LEAST_SHARE * float(common.max())).all(axis=0)
    if not high.any():
        raise ValueError("A relative scatter needs power above zero along the common range.")
    return common[:, high]


def mean_half_width(scatter: Scatter, n: int) -> float:
    """Pointwise 95 % half-width of a mean curve of n pulls, relative: t s / sqrt(n)."""
    return student.quantile(0.975, scatter.dof) * scatter.s / math.sqrt(n)


def half_width_95(scatter: Scatter, n1: int, n2: int, u: float = 0.0) -> float:
    """95 % half-width of the relative difference of two means of n1 and n2 pulls.

    sqrt((t s sqrt(1/n1 + 1/n2))^2 + (1.96 u)^2); u is one standard deviation of what
    else differs between the two (`combine_differences`), relative. Valid at one place,
    for a mean over a range, and for the peak when it is compared as such.

    >>> round(half_width_95(Scatter(0.005, 4, 6, 2), 3, 3, 0.015), 5)
    0.03151
    """
    if n1 < 1 or n2 < 1 or u < 0:
        raise ValueError("A difference needs at least one pull on each side and u of at least 0.")
    own = student.quantile(0.975, scatter.dof) * scatter.s * math.sqrt(1 / n1 + 1 / n2)
    return math.hypot(own, Z95 * u)


def combine_differences(
    keys: Iterable[str], known: Mapping[str, DifferenceSource] | None = None
) -> tuple[float, tuple[DifferenceSource, ...]]:
    """Quadrature sum of the differences named, and the list it is made of.

    `known` replaces a default by a measured figure (two dynos related by one car, repeat visits);
    one of few degrees of freedom counts with Student's t in place of the normal deviate.

    >>> u, parts = combine_differences(["another day", "another gear"])
    >>> round(u, 6), [p.text for p in parts]
    (0.018028, ['another day on the same dyno', 'another gear'])
    """
    parts = []
    for key in dict.fromkeys(keys):
        if key not in DIFFERENCE_DEFAULTS:
            raise ValueError(f"There is no default for a difference called {key!r}.")
        parts.append((known or {}).get(key, DIFFERENCE_DEFAULTS[key]))
    return math.sqrt(sum(part.u_normal**2 for part in parts)), tuple(parts)


def simultaneous_half_width(
    groups: Sequence[ArrayLike], n1: int, n2: int, u: float = 0.0, *, draws: int = 4000
) -> float:
    """95 % half-width, relative, that holds for the LARGEST difference along the curve.

    Residual bootstrap over pulls: whole residual curves (pull/group mean - 1) of all
    `groups` (each (n, g), on one grid) are mixed with normal weights into differences of
    means of n1 and n2 pulls, and divided by the chance error of their own scale; 95 % of
    the largest absolute differences lie within the result. Never below `half_width_95`.
    Fixed seed. Errors: ValueError if no group has two pulls, because then a largest gain
    may only be printed without a verdict.
    """
    residuals, dof = _residual_curves(groups)
    rng = np.random.default_rng(SEED)
    weights = rng.standard_normal((draws, len(residuals)))
    mixed = weights @ (residuals * math.sqrt((1 / n1 + 1 / n2) / dof))
    scale = np.sqrt(rng.chisquare(dof, draws) / dof)
    own = float(np.quantile(np.abs(mixed).max(axis=1) / scale, 0.95))
    square = float((residuals**2).sum(axis=0).mean()) / dof
    pointwise = half_width_95(Scatter(math.sqrt(square), dof, 0, 0), n1, n2)
    return math.hypot(max(own, pointwise), Z95 * u)


def _residual_curves(groups: Sequence[ArrayLike]) -> tuple[Floats, int]:
    """Residual curves of all groups over the range they share, and their dof."""
    stacks = [np.atleast_2d(np.asarray(group, dtype=np.float64)) for group in groups]
    stacks = [stack for stack in stacks if len(stack) > 1]
    if not stacks:
        raise ValueError("Without a repeated pull there is no scatter to judge a largest gain by.")
    shared = np.logical_and.reduce([np.isfinite(stack).all(axis=0) for stack in stacks])
    if not shared.any():
        raise ValueError("The groups have no range in common.")
    stacks = [stack[:, shared] for stack in stacks]
    high = np.logical_and.reduce([(s > LEAST_SHARE * float(s.max())).all(axis=0) for s in stacks])
    if not high.any():
        raise ValueError("A relative scatter needs power above zero along the common range.")
    residuals = np.vstack([s[:, high] / s[:, high].mean(axis=0) - 1 for s in stacks])
    return residuals, sum(len(stack) - 1 for stack in stacks)


def repeatability_limit(scatter: Scatter) -> float:
    """Two single pulls differ by more than this with probability 5 % at most, relative.

    r = t sqrt(2) s. For a known s (infinite dof) that is 2.77 s, which ISO 5725-6
    prints as 2.8 s_r [secondary].

    >>> round(repeatability_limit(Scatter(1.0, math.inf, 0, 0)), 3)
    2.772
    """
    return student.quantile(0.975, scatter.dof) * math.sqrt(2) * scatter.s


@dataclass(frozen=True)
class Outlier:
    """A pull that lies apart from the others of its group. It is named, never removed."""

    group: int
    pull: int
    distance: float
    limit: float


def outlying_pulls(groups: Sequence[ArrayLike]) -> tuple[Outlier, ...]:
    """Pulls further from the mean of the others of their group than chance explains.

    For each pull of a group of three or more: d = root-mean-square relative distance from
    the mean curve of the others; limit = t s sqrt(1 + 1/(n - 1)), where s and its dof come
    from all pulls but this one, and t is two-sided 95 % shared out over all pulls judged.
    Inputs: groups, each (n, g). Result: indices from 0.
    """
    stacks = [_common(group) for group in groups]
    judged = sum(len(stack) for stack in stacks if len(stack) > 2)
    return tuple(
        found
        for g, stack in enumerate(stacks)
        if len(stack) > 2
        for k in range(len(stack))
        if (found := _outlier(stacks, g, k, judged)) is not None
    )


def _outlier(stacks: list[Floats], g: int, k: int, judged: int) -> Outlier | None:
    others = np.delete(stacks[g], k, axis=0)
    rest = pooled_scatter([others if i == g else stack for i, stack in enumerate(stacks)])
    if rest is None or rest.s == 0:
        return None
    gap = stacks[g][k] / others.mean(axis=0) - 1
    distance = math.sqrt(float((gap**2).mean()))
    t = student.quantile(1 - 0.025 / judged, rest.dof)
    limit = t * rest.s * math.sqrt(1 + 1 / len(others))
    return Outlier(g, k, distance, limit) if distance > limit else None


@dataclass(frozen=True)
class RowTrend:
    """Relative change of level per pull over pulls made in a row.

    `falling` is true when the whole 90 % interval of the slope lies below zero
    (a one-sided test at 5 %): heat soak is one usual reason, not the only one.
    """

    slope: float
    half_width: float
    change: float
    falling: bool


def trend_in_a_row(curves: ArrayLike) -> RowTrend | None:
    """Straight line through the levels of three or more pulls, in the order they were made.

    Input: curves (n, g). Level = mean over the common range relative to the mean of all.
    Result: None for fewer than three pulls. `change` is first to last along the line.
    """
    common = _common(curves)
    n = len(common)
    if n < 3:
        return None
    level = common.mean(axis=1) / common.mean() - 1
    order = np.arange(n) - (n - 1) / 2
    sxx = float(order @ order)
    slope = float(order @ level) / sxx
    residual = level - slope * order
    error = math.sqrt(float(residual @ residual) / (n - 2) / sxx)
    half = student.quantile(0.95, n - 2) * error
    return RowTrend(slope, half, slope * (n - 1), slope + half < 0)
