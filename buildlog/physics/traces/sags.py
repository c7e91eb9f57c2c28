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
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from buildlog.physics.numerics import student
from buildlog.physics.numerics.levelling import levelled
from buildlog.physics.numerics.regression import RPM, Floats
from buildlog.physics.traces import dip_shapes

WIDTHS = (100.0, 150.0, 200.0, 300.0, 400.0, 550.0, 750.0, 1000.0)  # [rpm]
ROAD_RANGE = 4500.0  # [rpm] that the range of a road-speed axis stands for
SMOOTHING = 200.0  # [rpm] of a curve by engine speed
MIN_DEPTH = 0.006  # relative; a shallower dip is of no use to anyone
FALSE_ALARM = 0.010  # per set of pulls, before the competition
FALSE_ALARM_ALONE = 0.003  # the same for dips in one pull only
FOREIGN = 0.15  # of the depth: what another shape than the raised cosine makes of it
_TRIES = 10
_FADE = 300.0  # [rpm] over which a pull that ends leaves the mean
_MARGINS = (150.0, 100.0)  # [rpm] of shoulder beside the foot of a dip, at the start and the end
_SINGLE_DOF = 30.0
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

    `envelope` (g,) is in the unit of the curves, NaN where no pull has data. `smallest` (k, 2)
    lists width and the depth from which a sag of it would be reported 9 times in 10.
    """

    found: tuple[Sag, ...]
    envelope: Floats
    smallest: Floats


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
    scene = _Scene(x[part], mean.mean[part] / top, mean.count[part], smoothing / unit)
    single = None if noise is None else noise / (top * x[part])
    told = _noise(scene, pulls, single)
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
    smallest = [(w * unit, _smallest(scene, w, told)) for w in told.by_width]
    return Sags(tuple(sorted(sags, key=lambda s: s.at)), envelope, np.array(smallest))


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


@dataclass(frozen=True)
class _Scene:
    """A curve on its grid [rpm]: force over its highest, pulls at each place, smoothing [rpm]."""

    x: Floats
    force: Floats
    count: np.ndarray
    smoothing: float

    @property
    def step(self) -> float:
        return float(self.x[1] - self.x[0])

    @property
    def reach(self) -> float:
        return float(self.x[-1] - self.x[0])

    def at(self, place: float) -> float:
        return float(np.interp(place, self.x, self.force))

    def pulls_at(self, place: float) -> float:
        return float(np.interp(place, self.x, self.count))

    def widths(self) -> list[float]:
        """The widths whose dips have room on this curve."""
        fit = [w for w in WIDTHS if w <= 0.3 * self.reach]
        return [w for w in fit if self.scan(w).centres.size >= 3]

    def scan(self, width: float) -> _Scan:
        return _scan(round(float(self.x[0]), 6), self.x.size, self.step, width, self.smoothing)


@dataclass(frozen=True)
class _Scan:
    """Heights of dips of one width: operators (c, g) at their centres (c,)."""

    centres: Floats
    operators: Floats


@lru_cache(maxsize=128)
def _scan(first: float, size: int, step: float, width: float, smoothing: float) -> _Scan:
    x = first + step * np.arange(size, dtype=np.float64)
    low, high = x[0] + width + _MARGINS[0], x[-1] - width - _MARGINS[1]
    centres = np.arange(low, high + 1, step / 2 if width <= 200 else step)
    if centres.size < 3:
        return _Scan(centres[:0], np.zeros((0, size)))
    basis = dip_shapes.course(x, max(3 * width, 500.0))
    dips = dip_shapes.freed(dip_shapes.dips(width, smoothing, x, centres), basis)
    return _Scan(centres, -dips / (dips**2).sum(axis=1, keepdims=True))


@dataclass(frozen=True)
class _Noise:
    """Standard deviation of a dip's height in ONE pull, with its degrees of freedom, by width."""

    by_width: Mapping[float, tuple[float, float]]
    reach: float

    def t(self, width: float, alarm: float) -> float:
        trials = 2 * self.reach / width * len(self.by_width)
        return student.quantile(1 - alarm / trials, self.by_width[width][1])


def _noise(scene: _Scene, pulls: Floats, single: Floats | None) -> _Noise:
    """From the spread of the heights between the pulls; of one pull from its samples.

    Pooled along the range that all share and smoothed over the widths (a parabola of the
    logarithms), since noise has no reason to jump from one width to the next. Simulation gives
    (n - 1) 0.66 range/width degrees of freedom, half as many again after smoothing.
    """
    shared = np.flatnonzero(np.isfinite(pulls).all(axis=0))
    short = scene if shared.size < 2 else replace(scene, x=scene.x[shared])
    widths = short.widths() if shared.size >= 16 else []
    if not widths:
        raise ValueError("The range that the pulls share is too short to seek sags in.")
    if len(pulls) == 1:
        if single is None:
            raise ValueError("A single pull needs the noise of its samples.")
        raw = [_propagated(short.scan(w).operators, single) for w in widths]
        return _Noise(dict(zip(widths, ((s, _SINGLE_DOF) for s in raw), strict=True)), scene.reach)
    apart = pulls[:, shared] - pulls[:, shared].mean(axis=0)
    n = len(pulls) - 1
    squares = [((apart @ short.scan(w).operators.T) ** 2).sum(axis=0).mean() for w in widths]
    raw = [_floor(math.sqrt(float(square) / n)) for square in squares]
    dof = np.array([n * max(0.66 * short.reach / w, 1.0) for w in widths])
    if len(widths) > 3:
        logs = np.log(widths)
        fit = np.polynomial.Polynomial.fit(logs, np.log(raw), 2, w=np.sqrt(dof))
        raw, dof = np.exp(fit(logs)).tolist(), 1.5 * dof
    known = dict(zip(widths, zip(raw, dof.tolist(), strict=True), strict=True))
    last = known[widths[-1]]  # wider dips than the shared range has room for: no less noise
    return _Noise({w: known.get(w, last) for w in scene.widths()}, scene.reach)


def _propagated(operators: Floats, single: Floats) -> float:
    return _floor(float(np.sqrt(((operators * single) ** 2).sum(axis=1)).mean()))


def _floor(deviation: float) -> float:
    return max(deviation, 1e-6)


@dataclass(frozen=True)
class _Hit:
    """A dip that won its competition: its place, width and height, and the noise of that [-].

    `operator` gives its height in any curve over the window that begins at place `first`.
    """

    at: float
    width: float
    height: float
    noise: float
    dof: float
    first: int
    operator: Floats

    def height_in(self, force: Floats) -> float:
        """Height of this dip in another curve (g,)."""
        return float(self.operator @ force[self.first : self.first + self.operator.size])

    def shape(self, scene: _Scene) -> Floats:
        """The dip itself (g,), positive."""
        rows = dip_shapes.dips(self.width, scene.smoothing, scene.x, self.at)
        return np.asarray(self.height * rows[0], dtype=np.float64)

    def overlaps(self, other: _Hit) -> bool:
        return abs(self.at - other.at) <= self.width + other.width


def _pursue(scene: _Scene, noise: _Noise, alarm: float) -> list[_Hit]:
    """Sags of one curve, strongest first, each taken out before the next is sought."""
    kept: list[_Hit] = []
    for _ in range(_TRIES):
        hit = next(_winners(scene, noise, alarm, kept), None)
        if hit is None:
            break
        kept.append(hit)
        scene = replace(scene, force=scene.force + hit.shape(scene))
    return kept


def _winners(scene: _Scene, noise: _Noise, alarm: float, known: Sequence[_Hit]) -> Iterator[_Hit]:
    """Dips that stand out and win, strongest first."""
    candidates = [c for width in noise.by_width for c in _candidates(scene, noise, width, alarm)]
    for _, place, width in sorted(candidates, reverse=True)[:_TRIES]:
        if any(abs(place - hit.at) < 0.3 * (width + hit.width) for hit in known):
            continue
        hit = compete(scene, place, width, noise.by_width[width])
        if hit is not None and _depth(scene, hit) >= MIN_DEPTH:
            yield hit


def _candidates(
    scene: _Scene, noise: _Noise, width: float, alarm: float
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


# The limits of the competition. A fall of the residual sum of squares is counted in units of the
# variance that noise alone would make of it.
HOLDS = 0.5  # of what the course leaves: as much the dip explains at least
AHEAD, AHEAD_SHARE = 12.0, 0.03  # of the best rival: by so much, and by so much of that
LEFT = 0.70  # what it leaves over what its best rival leaves
RINGS, RINGS_SHARE = 6.0, 0.12  # a damped answer ahead by so much, and by so much of that
RINGS_AT_START, NEAR_START = 20.0, 900.0  # the same by this alone, so near [rpm] the start
RING_REACH, RING_SPACING = 1200.0, 700.0  # [rpm] beside a dip, and of the knots of the course there
TWO, TWO_SHARE = 25.0, 0.10  # the same for the best two rivals together
WINDOW = (2.3, 350.0)  # shoulders beside a dip: in its widths, at least [rpm]


def compete(scene: _Scene, place: float, width: float, noise: tuple[float, float]) -> _Hit | None:
    """The dip near a place that explains the curve there better than all else; None without one."""
    half = width + max(WINDOW[0] * width, WINDOW[1])
    first = max(0, math.ceil((place - half - scene.x[0]) / scene.step - 1e-9))
    last = min(scene.x.size, math.floor((place + half - scene.x[0]) / scene.step + 1e-9) + 1)
    size, start = last - first, float(scene.x[first])
    middle = round((place - start) / 25) * 25.0
    rivals = dip_shapes.rivals(size, scene.step, width, scene.smoothing, middle)
    curve = scene.force[first:last]
    rest = curve - rivals.cubic @ (rivals.cubic.T @ curve)
    total = float(rest @ rest)
    along, squares = -(rivals.near @ rest), rivals.near_squares
    gains = np.where(along > 0, along**2 / squares, 0.0)
    best = int(np.argmax(gains))
    own, at, wide = float(gains[best]), start + rivals.near_at[best, 0], rivals.near_at[best, 1]
    deviation, dof = noise[0] / math.sqrt(scene.pulls_at(at)), noise[1]
    v = deviation**2 * float(squares[best])
    if not scene.at(at) < 0.5 * (scene.at(at - wide) + scene.at(at + wide)) or own < HOLDS * total:
        return None
    if _beaten(rivals, rest, own, total, v):
        return None
    if _rings(scene, float(at), float(wide), deviation):
        return None
    height, operator = float(along[best] / squares[best]), -rivals.near[best] / squares[best]
    return _Hit(float(at), float(wide), height, deviation, dof, first, operator)


def _rings(scene: _Scene, place: float, width: float, deviation: float) -> bool:
    """Whether a damped answer to a step explains a wide stretch about a dip better than the dip."""
    near = np.abs(scene.x - place) <= width + RING_REACH
    x, curve = scene.x[near], scene.force[near]
    spacing = max(3 * width, RING_SPACING)
    basis, answers = dip_shapes.ringing(x.size, scene.step, scene.smoothing, spacing)
    rest = curve - basis @ (basis.T @ curve)
    dip = dip_shapes.freed(dip_shapes.dips(width, scene.smoothing, x, place), basis)[0]
    square, total = float(dip @ dip), float(rest @ rest)
    own = max(-float(dip @ rest), 0.0) ** 2 / square
    more = float((np.einsum("cgk,g->ck", answers, rest) ** 2).sum(axis=1).max()) - own
    v, early = deviation**2 * square, place - scene.x[0] < NEAR_START
    return more > max(RINGS * v, RINGS_SHARE * total) or (early and more > RINGS_AT_START * v)


def _beaten(rivals: dip_shapes.Rivals, rest: Floats, own: float, total: float, v: float) -> bool:
    """Whether one rival does nearly as well, or two together do better."""
    shapes = np.vstack([rivals.either, rivals.up])
    only_up = np.arange(len(shapes)) >= len(rivals.either)
    along = shapes @ rest
    gains = np.where(only_up & (along < 0), 0.0, along**2)
    first = int(np.argmax(gains))
    best = float(gains[first])
    if own - best < max(AHEAD * v, AHEAD_SHARE * total) or total - own > LEFT * (total - best):
        return True
    beside = shapes - (shapes @ shapes[first])[:, None] * shapes[first]
    squares = (beside**2).sum(axis=1)
    along = beside @ rest
    allowed = (squares > 1e-6) & ~(only_up & (along < 0))
    second = np.where(allowed, along**2 / np.maximum(squares, 1e-6), 0.0)
    more = best + float(second.max()) - own
    return more > TWO * v and more > TWO_SHARE * total


def _depth(scene: _Scene, hit: _Hit) -> float:
    return hit.height / (scene.at(hit.at) + hit.height)


def _smallest(scene: _Scene, width: float, noise: _Noise) -> float:
    """Depth from which a dip of this width in the middle of the curve would be found."""
    middle = float(scene.x[scene.x.size // 2])
    half = width + max(WINDOW[0] * width, WINDOW[1])
    size = min(scene.x.size, 2 * math.floor(half / scene.step) + 1)
    own = dip_shapes.rivals(
        size, scene.step, width, scene.smoothing, round(size / 2 * scene.step / 25) * 25.0
    )
    place = int(np.argmin(np.abs(own.near_at - [size / 2 * scene.step, width]).sum(axis=1)))
    dip = own.near[place] / math.sqrt(float(own.near_squares[place]))
    taken = float(max(((own.either @ dip) ** 2).max(), ((own.up @ -dip) ** 2).max()))
    deviation = noise.by_width[width][0]
    needed = max(noise.t(width, FALSE_ALARM), math.sqrt(AHEAD / max(1 - taken, 0.05)))
    height = (needed + 2.0) * deviation / math.sqrt(scene.pulls_at(middle))
    return max(height / (scene.at(middle) + height), MIN_DEPTH)


def _alone(scene: _Scene, pulls: Floats, shared: Sequence[_Hit]) -> Iterator[tuple[_Hit, int]]:
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
            noise = _noise(scene, others, None)
        except ValueError:
            return
        for hit in _pursue(own, noise, FALSE_ALARM_ALONE / n):
            held = np.interp([hit.at - hit.width, hit.at + hit.width], scene.x, here)
            apart = not any(hit.overlaps(other) for other in shared)
            if apart and held.all() and hit.height_in(mean) < 0.4 * hit.height:
                yield hit, pull


def _described(
    scene: _Scene,
    hit: _Hit,
    pulls: Floats,
    covered: np.ndarray,
    unit: float,
    pull: int | None = None,
) -> Sag:
    near = np.abs(scene.x - hit.at) <= hit.width
    cover = np.flatnonzero(covered[:, near].all(axis=1))
    heights = {int(i): hit.height_in(pulls[i]) for i in cover}
    shows = [i for i, height in heights.items() if height >= 0.5 * hit.height]
    depth = _depth(scene, hit)
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


@dataclass(frozen=True)
class Coincidence:
    """A channel's own local change near a sag: positive = a local rise, in the channel's unit.

    `level` is what it stands at there, `at` where it lies on the axis. It coincides with the sag;
    whether it is its cause, no log can say.
    """

    channel: str
    change: float
    level: float
    at: float


COINCIDENCE_ALARM = 0.01  # per channel
_LIKE, _BESIDE = (0.6, 1.8), 0.3  # widths of a change over a sag's, and how far from it, in widths


def coincides(
    axis: ArrayLike,
    channels: Mapping[str, ArrayLike],
    sag: Sag,
    *,
    unit: float = RPM,
    smoothing: float = SMOOTHING * RPM,
    late: Mapping[str, float] | None = None,
) -> tuple[Coincidence, ...]:
    """Channels that leave their own course at a sag, by the same search and competition.

    Inputs: axis (g,), `unit` and `smoothing` as given to `find_sags`; channels: name -> (n, g) or
    (g,) on that grid, any unit, NaN where not logged; `late`: how far behind the sag a channel may
    show it, on the axis (its delay times the sweep's rate). A channel that is not logged around
    the sag, or does not move, is left out. The change is sought within 0.3 widths of the sag.
    """
    x = np.asarray(axis, dtype=np.float64)
    found = []
    for name, values in channels.items():
        rows = np.atleast_2d(np.asarray(values, dtype=np.float64))
        if rows.shape[1] != x.size:
            raise ValueError(f"{name} has {rows.shape[1]} places but the grid has {x.size}.")
        known = np.isfinite(rows).all(axis=0)
        if known.sum() < 16 or np.any(np.diff(np.flatnonzero(known)) != 1):
            continue
        reach = (late or {}).get(name, 0.0) / unit
        place = _Place(sag.at / unit, sag.width / unit, reach)
        hit = _change(x[known] / unit, rows[:, known], place, smoothing / unit)
        if hit is not None:
            found.append(Coincidence(name, hit[0], hit[1], hit[2] * unit))
    return tuple(found)


@dataclass(frozen=True)
class _Place:
    at: float
    width: float
    late: float


def _change(
    x: Floats, rows: Floats, place: _Place, smoothing: float
) -> tuple[float, float, float] | None:
    """Change, level and place of what one channel (n, g) does near a sag; None for nothing."""
    mean = rows.mean(axis=0)
    low, high = np.quantile(mean, (0.02, 0.98))
    if not high > low:
        return None
    span = float(high - low)
    count = np.full(x.size, len(rows))
    best: tuple[float, float, float, float] | None = None
    for sign in (1.0, -1.0):
        scene = _Scene(x, sign * (mean - low) / span, count, smoothing)
        for strength, hit in _changes(scene, sign * rows / span, place):
            if best is None or strength > best[0]:
                level = float(np.interp(hit.at, x, mean))
                best = strength, -sign * hit.height * span, level, hit.at
    return None if best is None else best[1:]


def _changes(scene: _Scene, rows: Floats, place: _Place) -> Iterator[tuple[float, _Hit]]:
    """Dips of a channel near a place that stand out and win, with their strength."""
    widths = [w for w in scene.widths() if _LIKE[0] <= w / place.width <= _LIKE[1]]
    for width in widths:
        scan = scene.scan(width)
        near = (scan.centres >= place.at - _BESIDE * place.width) & (
            scan.centres <= place.at + _BESIDE * place.width + place.late
        )
        if not near.any():
            continue
        heights = scan.operators @ scene.force
        best = int(np.argmax(np.where(near, heights, -np.inf)))
        own = dip_shapes.dips(width, scene.smoothing, scene.x, scan.centres[best])[0]
        rest = heights + float(heights[best]) * (scan.operators @ own)
        deviation, dof = _channel_noise(scan, rows, rest, scene.reach / width)
        trials = 2 * len(widths) * max(int(near.sum()), 1)
        t = student.quantile(1 - COINCIDENCE_ALARM / trials, dof)
        strength = float(heights[best]) * math.sqrt(len(rows)) / deviation
        if strength > t:
            hit = compete(scene, float(scan.centres[best]), width, (deviation, dof))
            if hit is not None:
                yield strength, hit


def _channel_noise(
    scan: _Scan, rows: Floats, rest: Floats, independent: float
) -> tuple[float, float]:
    """Deviation of a height in one pull: between the pulls, or along the curve of a single one,
    by the heights that are left when the change itself is taken out."""
    if len(rows) > 1:
        apart = (rows - rows.mean(axis=0)) @ scan.operators.T
        square = float((apart**2).sum(axis=0).mean()) / (len(rows) - 1)
        return _floor(math.sqrt(square)), (len(rows) - 1) * max(0.66 * independent, 1.0)
    return _floor(1.4826 * float(np.median(np.abs(rest - np.median(rest))))), _SINGLE_DOF
