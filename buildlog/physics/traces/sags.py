"""Sags: local dips of a power curve deeper than the scatter of its pulls explains.

Worked on the logarithm of the driving force (power over axis), where curves are flattest.
For every place and width the curve around it is fitted by a quartic (the smooth
envelope) plus one raised-cosine dip of that width: the height of the dip is the residual
against an envelope that the dip cannot pull down. Its noise is the spread of the same
height between the pulls, pooled along the curve, so it holds for correlated noise too.
A dip counts only if it also looks like one to the eye: the curve there lies below the
straight continuation of both its shoulders, not above the chord between them, and its
surroundings are no more bent than a torque curve is. Otherwise the foot or the knee of a
rising boost would be called a sag.
Width means the full width at half depth. Method: least squares; thresholds by Student's
t shared out over all widths and places (Bonferroni); false-alarm and detection rates are
measured by simulation (tests/benchmarks/bench_sags.py).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from buildlog.physics.numerics import student
from buildlog.physics.numerics.middle import median
from buildlog.physics.numerics.regression import RPM, Floats

WIDTHS = (100 * RPM, 1200 * RPM)  # narrower is noise, wider is the shape of the engine
LADDER = (1.0, 1.5, 2.0, 3.0, 4.5, 6.0, 9.0, 12.0)  # widths tried, times the narrowest
MIN_DEPTH = 0.006  # relative; a shallower dip is of no use to anyone
SHAPE_DEPTH = 0.025  # added, times (width/widest)^2: how far a quartic misses real curves
BEND = 0.01  # chord rise of an ordinary torque hump over a quarter of the widest width
FALSE_ALARM = 0.010  # per set of pulls, before the tests by eye
FALSE_ALARM_ALONE = 0.003  # the same for dips in one pull only


@dataclass(frozen=True)
class Sag:
    """One sag: place and width in the unit of the axis, depth relative (0.025 = 2.5 %).

    `half_width` is the 95 % half-width of the depth. `pulls` are the indices in which
    it shows; `shared` says that these are more than half of them.
    """

    at: float
    width: float
    depth: float
    half_width: float
    pulls: tuple[int, ...]
    shared: bool


@dataclass(frozen=True)
class Sags:
    """All sags of a set of pulls, by place, and the mean curve with the shared ones filled.

    `envelope` (g,) is in the unit of the curves, NaN where not all pulls have data.
    `smallest` (k, 2) lists width and the depth from which a sag of it would be reported.
    """

    found: tuple[Sag, ...]
    envelope: Floats
    smallest: Floats


def find_sags(axis: ArrayLike, curves: ArrayLike, widths: tuple[float, float] = WIDTHS) -> Sags:
    """Sags of one set of pulls on one grid.

    Inputs: axis (g,) evenly spaced, engine speed [rad/s] unless `widths` (narrowest,
    widest) are given in another unit; curves (n, g) of power [W], NaN where a pull has no
    data. With one pull the noise is taken from the curve itself, and fewer dips stand
    out. Errors: ValueError for an uneven axis, power or axis at or below zero, or fewer
    than 16 places in common. Validity: no sag is sought closer to either end than its
    width; rates are those of the benchmark for curves of its kinds.
    """
    x, y, columns = _prepared(axis, curves)
    logs = np.log(y / x)
    mean, n = logs.mean(axis=0), len(logs)
    scans = _scans(x, widths)
    errors, dof = _errors(scans, logs)
    tests = [_Test(scan, e, d, len(scans)) for scan, e, d in zip(scans, errors, dof, strict=True)]
    shared = _pursue(mean, tests, n, FALSE_ALARM)
    sags = [_described(x, hit, logs) for hit in shared]
    if n > 1:
        sags += [_described(x, hit, logs, pull) for hit, pull in _alone(logs, tests, shared)]
    envelope = np.full(np.asarray(axis).size, np.nan)
    envelope[columns] = np.exp(sum((hit.shape(x.size) for hit in shared), mean)) * x
    step = float(x[1] - x[0])
    smallest = np.array([[t.scan.width * step, t.needed(FALSE_ALARM, n)] for t in tests])
    return Sags(tuple(sorted(sags, key=lambda s: s.at)), envelope, smallest)


def _prepared(axis: ArrayLike, curves: ArrayLike) -> tuple[Floats, Floats, NDArray[np.intp]]:
    x = np.asarray(axis, dtype=np.float64)
    y = np.atleast_2d(np.asarray(curves, dtype=np.float64))
    if y.shape[1] != x.size:
        raise ValueError(f"The grid has {x.size} places but the curves have {y.shape[1]}.")
    columns = np.flatnonzero(np.isfinite(y).all(axis=0))
    if columns.size < 16 or np.any(np.diff(columns) != 1):
        raise ValueError("The pulls need at least 16 grid places in common, without a gap.")
    x, y = x[columns], y[:, columns]
    steps = np.diff(x)
    if steps[0] <= 0 or np.ptp(steps) > 1e-6 * float(steps[0]):
        raise ValueError("The grid must rise in even steps.")
    if (y <= 0).any() or x[0] <= 0:
        raise ValueError("Sags are sought where axis and power are above zero.")
    return x, y, columns


@dataclass(frozen=True)
class _Scan:
    """Linear operators (places, g) on a log curve for one width [grid steps].

    height: depth of the fitted dip. left, right: how far the middle lies below the
    straight continuation of that shoulder. chord: below the line between the shoulders.
    """

    width: float
    share: float  # width as a share of the widest width that is sought
    places: NDArray[np.intp]
    height: Floats
    left: Floats
    right: Floats
    chord: Floats


def _scans(x: Floats, widths: tuple[float, float]) -> list[_Scan]:
    step, reach = float(x[1] - x[0]), float(x[-1] - x[0])
    ladder = {max(widths[0] * k, 2 * step) for k in LADDER}
    fit = sorted(w for w in ladder if w <= widths[1] * (1 + 1e-9))
    scans = [_scan(x.size, round(w / step, 6), round(w / widths[1], 6)) for w in fit]
    usable = [s for s in scans if s.places.size >= 3 and s.width * step <= 0.4 * reach]
    if not usable:
        raise ValueError("The range of the pulls is too short to seek sags in.")
    return usable


@lru_cache(maxsize=64)
def _scan(size: int, width: float, share: float) -> _Scan:
    margin = math.ceil(width) + 3  # the whole dip and three places of each shoulder
    places = np.arange(margin, size - margin)
    rows = [_operators(size, int(c), width, share) for c in places]
    stacked = np.array(rows) if rows else np.zeros((0, 4, size))
    return _Scan(width, share, places, *(stacked[:, k, :] for k in range(4)))


def _operators(size: int, centre: int, width: float, share: float) -> Floats:
    """The four operators (4, g) at one place."""
    u: Floats = (np.arange(size) - centre) / width
    out = np.zeros((4, size))
    shoulder = max(2.0, min(3.0, 0.75 / share), 6 / width)  # in widths; longer for narrow dips
    near = np.abs(u) <= 1 + shoulder
    dip = np.where(np.abs(u) < 1, -0.5 * (1 + np.cos(np.pi * u)), 0.0)
    out[0, near] = np.linalg.pinv(np.column_stack([np.vander(u[near], 5), dip[near]]))[-1]
    middle = np.abs(u) <= max(1 / 3, 1 / width)
    reach = max(2.0, 1 + 4 / width)
    ends = (u <= -1) & (u >= -reach), (u >= 1) & (u <= reach)
    for k, end in enumerate(ends, start=1):
        out[k, end] = np.linalg.pinv(np.vander(u[end], 2))[-1]
    inner = max(0.5, 2 / width)
    lo, hi = ends[0] & (u >= -1 - inner), ends[1] & (u <= 1 + inner)
    a, b = -float(u[lo].mean()), float(u[hi].mean())
    out[3] = lo / lo.sum() * b / (a + b) + hi / hi.sum() * a / (a + b)
    out[1:] -= middle / middle.sum()
    return out


def _errors(scans: list[_Scan], logs: Floats) -> tuple[list[Floats], list[float]]:
    """Standard deviations of the four figures for ONE pull, per width, and their dof.

    Heights are pooled along the curve and smoothed over the widths (a parabola of the
    logarithms), since noise has no reason to jump from one width to the next. Simulation
    gives (n - 1) 0.66 range/width degrees of freedom, half as many again after smoothing.
    """
    n, size = logs.shape
    raw = np.array([_spread(scan, logs) for scan in scans])
    free = np.array([max(n - 1, 1) * max(0.66 * size / s.width, 1.0) for s in scans])
    if len(scans) > 3:
        w = np.log([s.width for s in scans])
        smooth = np.polynomial.Polynomial.fit(w, np.log(raw[:, 0]), 2, w=np.sqrt(free))
        raw[:, 0], free = np.exp(smooth(w)), 1.5 * free
    return list(raw), free.tolist()


def _spread(scan: _Scan, logs: Floats) -> Floats:
    """Spread of each of the four figures: between the pulls, or along the curve for one pull."""
    operators = (scan.height, scan.left, scan.right, scan.chord)
    if len(logs) > 1:
        apart = logs - logs.mean(axis=0)
        squares = [float(((op @ apart.T) ** 2).sum(axis=1).mean()) for op in operators]
        spread = np.sqrt(np.array(squares) / (len(logs) - 1))
        return np.asarray(np.maximum(spread, 1e-6), dtype=np.float64)
    along = [op @ logs[0] for op in operators]
    robust = np.array([1.4826 * median(np.abs(a - median(a))) for a in along])
    return np.asarray(np.maximum(robust, 1e-6), dtype=np.float64)


@dataclass(frozen=True)
class _Test:
    """One width with its noise (for the mean of `n` pulls where asked)."""

    scan: _Scan
    sigma: Floats
    dof: float
    widths: int

    def t(self, alarm: float) -> float:
        trials = 2 * self.scan.height.shape[1] / self.scan.width
        return student.quantile(1 - alarm / self.widths / trials, self.dof)

    def needed(self, alarm: float, n: int = 1) -> float:
        own = self.t(alarm) * float(self.sigma[0]) / math.sqrt(n)
        return max(own, MIN_DEPTH + SHAPE_DEPTH * self.scan.share**2)

    def hits(self, logs: Floats, n: int, alarm: float) -> list[_Hit]:
        """Places where the mean `logs` (g,) of n pulls shows a dip of this width."""
        scan, slack = self.scan, self.sigma / math.sqrt(n)
        height, left, right, chord = (
            op @ logs for op in (scan.height, scan.left, scan.right, scan.chord)
        )
        side = float(max(slack[1], slack[2]))
        bend = BEND * (scan.share / 0.25) ** 2
        # a narrow dip may sit on a hump and so above its chord, if only a little
        least = -0.1 if scan.share < 0.2 else 0.1 if scan.share <= 0.375 else 0.4
        real = (
            (height >= self.needed(alarm, n))
            & (np.minimum(left, right) >= 0.5 * height - side)
            & (np.maximum(left, right) <= 1.5 * height + 2 * bend + side)
            & (chord >= least * height - slack[3])
        )
        # still deepening toward the first or last place: the true middle lies beyond it
        reach = round(scan.width / 3)
        for end, near in ((0, slice(0, reach)), (-1, slice(max(height.size - reach, 0), None))):
            real[near] &= height[near] > height[end]
        strength = height / (self.t(alarm) * slack[0])
        half = student.quantile(0.975, self.dof) * float(slack[0])
        return [
            _Hit(float(strength[i]), int(scan.places[i]), scan, float(height[i]), half)
            for i in np.flatnonzero(real)
        ]


@dataclass(frozen=True)
class _Hit:
    """A dip at one place and width; `strength` is how far it is beyond the threshold."""

    strength: float
    place: int
    scan: _Scan
    height: float
    half_width: float

    def overlaps(self, other: _Hit) -> bool:
        return abs(self.place - other.place) <= self.scan.width + other.scan.width

    def shape(self, size: int) -> Floats:
        """The dip itself (g,), positive, in logarithms."""
        u = np.clip((np.arange(size) - self.place) / self.scan.width, -1, 1)
        return np.asarray(self.height * 0.5 * (1 + np.cos(np.pi * u)), dtype=np.float64)

    def in_each(self, logs: Floats) -> Floats:
        """Height of this dip in each of the pulls (n, g)."""
        row = self.scan.height[self.place - int(self.scan.places[0])]
        return np.asarray(logs @ row, dtype=np.float64)


def _pursue(logs: Floats, tests: list[_Test], n: int, alarm: float) -> list[_Hit]:
    """Dips of one log curve (g,), strongest first, each taken out before the next is sought.

    Bulges are sought by the same rules and taken out too: beside one, a curve looks dented.
    """
    rest = logs.copy()
    kept: list[_Hit] = []
    for _ in range(12):
        dips = [hit for test in tests for hit in test.hits(rest, n, alarm)]
        bulges = [hit for test in tests for hit in test.hits(-rest, n, alarm)]
        if not dips and not bulges:
            break
        hit = max(dips + bulges, key=lambda h: h.strength)
        is_dip = any(hit is dip for dip in dips)
        rest += hit.shape(rest.size) * (1 if is_dip else -1)
        seen_at_first = float(hit.in_each(logs[None, :])[0]) >= 0.5 * hit.height
        if is_dip and seen_at_first and not any(hit.overlaps(other) for other in kept):
            kept.append(hit)
    return kept


def _alone(logs: Floats, tests: list[_Test], shared: list[_Hit]) -> list[tuple[_Hit, int]]:
    """Dips that stand out in one pull though not in the mean of all."""
    alarm = FALSE_ALARM_ALONE / len(logs)
    found = []
    for pull, curve in enumerate(logs):
        found += [
            (hit, pull)
            for hit in _pursue(curve, tests, 1, alarm)
            if _only_in(hit, pull, logs) and not any(hit.overlaps(s) for s in shared)
        ]
    return found


def _only_in(hit: _Hit, pull: int, logs: Floats) -> bool:
    """Whether the other pulls lack the dip: what all share is the engine's own shape."""
    heights = hit.in_each(logs)
    return float(np.delete(heights, pull).mean()) < 0.4 * float(heights[pull])


def _described(x: Floats, hit: _Hit, logs: Floats, pull: int | None = None) -> Sag:
    heights = hit.in_each(logs)
    shows = np.flatnonzero(heights >= 0.5 * hit.height).tolist()
    step = float(x[1] - x[0])
    return Sag(
        float(x[hit.place]),
        hit.scan.width * step,
        1 - math.exp(-hit.height),
        hit.half_width,
        tuple(shows) if pull is None else (pull,),
        pull is None and 2 * len(shows) > len(logs),
    )


@dataclass(frozen=True)
class Coincidence:
    """A channel's local change at a sag: positive = a local rise, in the channel's unit.

    `noise` is the standard deviation of such a change elsewhere or between pulls;
    `exceeds` says that the change is beyond what that noise explains. It coincides
    with the sag; whether it is its cause, no log can say.
    """

    channel: str
    change: float
    level: float
    noise: float
    exceeds: bool


def coincides(
    axis: ArrayLike,
    channels: Mapping[str, ArrayLike],
    sag: Sag,
    widths: tuple[float, float] = WIDTHS,
) -> tuple[Coincidence, ...]:
    """What every other channel does at a sag, by the same fit as the sag itself.

    Inputs: axis (g,) as given to `find_sags`; channels: name -> (n, g) or (g,) on that
    grid, any unit, NaN where not logged; a channel that is not logged around the sag is
    left out. The change is sought within half a width of the sag, since sensors lag.
    Noise: the spread of the change along the rest of the curve (median absolute
    deviation) or between pulls, whichever is larger; limit 4 of these.
    """
    x = np.asarray(axis, dtype=np.float64)
    found = []
    for name, values in channels.items():
        rows = np.atleast_2d(np.asarray(values, dtype=np.float64))
        if rows.shape[1] != x.size:
            raise ValueError(f"The grid has {x.size} places but {name} has {rows.shape[1]}.")
        with_data = np.isfinite(rows).all(axis=0)
        if with_data.sum() >= 16 and np.all(np.diff(np.flatnonzero(with_data)) == 1):
            one = _coincidence(name, x[with_data], rows[:, with_data], sag, widths)
            found += [one] if one is not None else []
    return tuple(found)


def _coincidence(
    name: str, x: Floats, rows: Floats, sag: Sag, widths: tuple[float, float]
) -> Coincidence | None:
    step = float(x[1] - x[0])
    scan = _scan(x.size, round(sag.width / step, 6), round(sag.width / widths[1], 6))
    changes = -(rows @ scan.height.T)
    offset = np.abs(x[scan.places] - sag.at)
    near, far = offset <= max(0.5 * sag.width, step), offset > 1.5 * sag.width
    if not near.any():
        return None
    mean = changes.mean(axis=0)
    best = int(np.flatnonzero(near)[np.argmax(np.abs(mean[near]))])
    # a dip echoes in the fits beside it: taken out, so that it is not its own noise
    u = np.clip((np.arange(x.size) - scan.places[best]) / scan.width, -1, 1)
    rest = rows.mean(axis=0) - float(mean[best]) * 0.5 * (1 + np.cos(np.pi * u))
    elsewhere = scan.height[far] @ rest
    noise = 1.4826 * median(np.abs(elsewhere)) if far.any() else 0.0
    if len(rows) > 1:
        noise = max(noise, float(np.sqrt(changes.var(axis=0, ddof=1).mean() / len(rows))))
    level = float(rows[:, scan.places[best]].mean())
    rounding = 1e-9 * max(float(np.abs(rows).max()), 1e-300)
    change = float(mean[best])
    return Coincidence(name, change, level, noise, abs(change) > 4 * noise + rounding)
