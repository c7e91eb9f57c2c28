"""Sags: local losses of a power curve that come back, deeper than the scatter of its pulls.

Worked on the driving force (power over axis), where curves are flattest, of the levelled mean of
the pulls. For every place and width the curve is fitted by a spline course plus one smoothed dip;
the noise of that dip's height is the spread of the same height between the pulls, pooled along the
curve, so it holds for correlated noise too. What stands out is then put against everything else a
curve may do there: a step, a knee, a bulge, a controller's ringing. Only what a dip explains
clearly better than all of these, on both its sides, is a sag.
Width means the full width at half depth. Method: least squares; thresholds by Student's t shared
out over all widths and places (Bonferroni); the limits of the competition were set on curves of
which half were kept aside (tests/benchmarks/bench_sags.py measures the rates on these).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from buildlog.physics.numerics import student
from buildlog.physics.numerics.levelling import levelled
from buildlog.physics.numerics.regression import RPM, Floats
from buildlog.physics.traces.dip_contest import (
    FALSE_ALARM,
    MIN_DEPTH,
    ForceCurve,
    Hit,
    Noise,
    compete,
    depth_of,
    noise_of,
)
from buildlog.physics.traces.smallest_sag import Smallest, smallest_of

ROAD_RANGE = 4500.0  # [rpm] that the range of a road-speed axis stands for
SMOOTHING = 200.0  # [rpm] of a curve by engine speed
FALSE_ALARM_ALONE = 0.003  # the same for dips in one pull only
FOREIGN = 0.15  # of the depth: what another shape than the raised cosine makes of it
_TRIES = 10
_FADE = 300.0  # [rpm] over which a pull that ends leaves the mean
_FREE = 1.5  # what a free centre and width add to the noise of a height


@dataclass(frozen=True)
class Sag:
    """One sag: place and width in the unit of the axis, depth relative (0.025 = 2.5 %).

    `half_width` is the 95 % half-width of the depth. `pulls` are the indices in which it shows;
    `shared` says that these are most of the `covering` that have been all through it.
    """

    at: float
    width: float
    depth: float
    half_width: float
    pulls: tuple[int, ...]
    shared: bool
    covering: int


@dataclass(frozen=True)
class Sags:
    """All sags of a set of pulls, by place, and the mean curve with the shared ones filled.

    `envelope` (g,) is in the unit of the curves, NaN where no pull has data.
    """

    found: tuple[Sag, ...]
    envelope: Floats
    unit: float
    _scene: ForceCurve
    _noise: Noise

    def smallest(self, width: float) -> Smallest | None:
        """Depth from which a sag of some such width (in the unit of the axis) would be reported."""
        known = min(self._noise.by_width, key=lambda w: abs(w - width / self.unit))
        return smallest_of(self._scene, known, self._noise, self.unit)


def find_sags(
    axis: ArrayLike,
    curves: ArrayLike,
    *,
    unit: float = RPM,
    smoothing: float = SMOOTHING * RPM,
    noise: float | None = None,
) -> Sags:
    """Sags of one set of pulls on one grid.

    Inputs: axis (g,) evenly spaced, engine speed [rad/s] unless `unit` says what stands for one
    rpm of it (`road_unit`); curves (n, g) of power [W], NaN where a pull has no data; `smoothing`
    of the curves, full width in the unit of the axis; `noise` [W] of a single pull, as the
    standard deviation of the mean of its samples over 50 rpm (`sample_noise`); several pulls
    tell theirs. Errors: ValueError for an uneven axis, an axis at or below zero, a single pull
    without its noise, or fewer than 16 places with data. Validity: no sag is sought closer to an
    end than its width; rates are those of the benchmark for curves of its kinds.
    """
    whole = _prepared(axis, curves)
    x = whole.axis / unit
    force = whole.curves / x
    mean = levelled(force, round(_FADE / float(x[1] - x[0])))
    top = float(np.nanmax(mean.mean))
    first, last = _trimmed(x, mean.mean / top)
    part = slice(first, last)
    pulls = force[:, part] / (mean.levels[:, None] * top)
    scene = ForceCurve(x[part], mean.mean[part] / top, mean.count[part], smoothing / unit)
    single = None if noise is None else noise / (top * x[part])
    told = noise_of(scene, pulls, single)
    shared = _pursue(scene, told, FALSE_ALARM)
    filled = np.where(np.isfinite(pulls), pulls, scene.force)
    covered = np.isfinite(pulls)
    sags = [_described(scene, hit, filled, covered, unit) for hit in shared]
    sags += [
        _described(scene, hit, filled, covered, unit, pull)
        for hit, pull in _alone(scene, pulls, shared)
    ]
    envelope = np.full(whole.size, np.nan)
    envelope[whole.columns] = mean.mean * x
    envelope[whole.columns[part]] += top * scene.x * sum(h.shape(scene) for h in shared)
    return Sags(tuple(sorted(sags, key=lambda s: s.at)), envelope, unit, scene, told)


def road_unit(axis: ArrayLike) -> float:
    """What stands for one rpm on a road-speed axis (g,): its range is taken as 4,500 rpm."""
    return float(np.ptp(np.asarray(axis, dtype=np.float64))) / ROAD_RANGE


def sample_noise(sigma: float, correlation: float, spacing: float) -> float:
    """Standard deviation of the mean of a pull's samples over 50 rpm, in the samples' unit.

    Inputs: standard deviation of the samples about their local fit, their lag-one correlation,
    their spacing [rpm]. Twice what independent noise would give: a single pull has nobody to
    tell its noise from its shape.

    >>> round(sample_noise(0.5, 0.0, 12.5), 2)
    0.5
    """
    return 2 * sigma * math.sqrt((1 + correlation) / (1 - correlation) * spacing / 50)


@dataclass(frozen=True)
class _Whole:
    axis: Floats
    curves: Floats
    columns: np.ndarray
    size: int


def _prepared(axis: ArrayLike, curves: ArrayLike) -> _Whole:
    x = np.asarray(axis, dtype=np.float64)
    y = np.atleast_2d(np.asarray(curves, dtype=np.float64))
    if y.shape[1] != x.size:
        raise ValueError(f"The grid has {x.size} places but the curves have {y.shape[1]}.")
    columns = np.flatnonzero(np.isfinite(y).any(axis=0))
    if columns.size < 16 or np.any(np.diff(columns) != 1):
        raise ValueError("The pulls need at least 16 grid places, without a gap.")
    x, y = x[columns], y[:, columns]
    steps = np.diff(x)
    if steps[0] <= 0 or np.ptp(steps) > 1e-6 * float(steps[0]):
        raise ValueError("The grid must rise in even steps.")
    if x[0] <= 0 or not float(np.nanmax(y)) > 0:
        raise ValueError("Sags are sought where axis and power are above zero.")
    return _Whole(x, y, columns, np.asarray(axis).size)


def _trimmed(x: Floats, force: Floats) -> tuple[int, int]:
    """First and one past the last place: no run-out at the end, no shift at the start."""
    reach = round(200 / float(x[1] - x[0]))
    first, last = 0, x.size
    while last - first > 40 and force[last - 1] < 0.85 * force[last - 1 - reach]:
        last -= 1
    while last - first > 40 and force[first] < 0.75 * force[first + reach]:
        first += 1
    return first, last


def _pursue(scene: ForceCurve, noise: Noise, alarm: float) -> list[Hit]:
    """Sags of one curve, strongest first, each taken out before the next is sought."""
    kept: list[Hit] = []
    for _ in range(_TRIES):
        hit = next(_winners(scene, noise, alarm, kept), None)
        if hit is None:
            break
        kept.append(hit)
        scene = replace(scene, force=scene.force + hit.shape(scene))
    return kept


def _winners(scene: ForceCurve, noise: Noise, alarm: float, known: Sequence[Hit]) -> Iterator[Hit]:
    """Dips that stand out and win, strongest first."""
    candidates = [c for width in noise.by_width for c in _candidates(scene, noise, width, alarm)]
    for _, place, width in sorted(candidates, reverse=True)[:_TRIES]:
        if any(abs(place - hit.at) < 0.3 * (width + hit.width) for hit in known):
            continue
        hit = compete(scene, place, width, noise.by_width[width])
        if hit is not None and depth_of(scene, hit) >= MIN_DEPTH:
            yield hit


def _candidates(
    scene: ForceCurve, noise: Noise, width: float, alarm: float
) -> Iterator[tuple[float, float, float]]:
    """Strength (1 at the threshold), place and width of each local maximum of the height."""
    scan = scene.scan(width)
    heights = scan.operators @ scene.force
    deviation = noise.by_width[width][0] / np.sqrt(np.interp(scan.centres, scene.x, scene.count))
    least = MIN_DEPTH * np.interp(scan.centres, scene.x, scene.force)
    threshold = np.maximum(noise.t(width, alarm) * deviation, least)
    padded = np.pad(heights, 1, constant_values=-np.inf)
    tops = (heights >= threshold) & (heights >= padded[:-2]) & (heights >= padded[2:])
    for i in np.flatnonzero(tops):
        yield float(heights[i] / threshold[i]), float(scan.centres[i]), width


def _alone(scene: ForceCurve, pulls: Floats, shared: Sequence[Hit]) -> Iterator[tuple[Hit, int]]:
    """Dips that stand out in one pull of three or more though not in the mean of all."""
    n = len(pulls)
    if n < 3:
        return
    for pull, curve in enumerate(pulls):
        others = np.delete(pulls, pull, axis=0)
        mean = np.nanmean(others, axis=0) if np.isfinite(others).any(axis=0).all() else scene.force
        here = np.isfinite(curve)
        own = replace(scene, force=np.where(here, curve, mean), count=np.ones(curve.size))
        try:
            noise = noise_of(scene, others, None)
        except ValueError:
            return
        for hit in _pursue(own, noise, FALSE_ALARM_ALONE / n):
            held = np.interp([hit.at - hit.width, hit.at + hit.width], scene.x, here)
            apart = not any(hit.overlaps(other) for other in shared)
            if apart and held.all() and hit.height_in(mean) < 0.4 * hit.height:
                yield hit, pull


def _described(
    scene: ForceCurve,
    hit: Hit,
    pulls: Floats,
    covered: np.ndarray,
    unit: float,
    pull: int | None = None,
) -> Sag:
    near = np.abs(scene.x - hit.at) <= hit.width
    cover = np.flatnonzero(covered[:, near].all(axis=1))
    heights = {int(i): hit.height_in(pulls[i]) for i in cover}
    shows = [i for i, height in heights.items() if height >= 0.5 * hit.height]
    depth = depth_of(scene, hit)
    own = student.quantile(0.975, hit.dof) * hit.noise * _FREE
    return Sag(
        hit.at * unit,
        hit.width * unit,
        depth,
        math.hypot(own, FOREIGN * depth),
        tuple(shows) if pull is None else (pull,),
        pull is None and 2 * len(shows) > len(cover),
        len(cover),
    )
