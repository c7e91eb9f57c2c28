"""The contest that a dip of a curve must win: against noise, and against all else a curve may do.

A curve stands here as driving force over its highest, on an even grid of engine speed [rpm]; how
the search goes about it is told in `sags`. Method: least squares; thresholds by Student's t.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from buildlog.physics.numerics import student
from buildlog.physics.numerics.regression import Floats
from buildlog.physics.traces import dip_shapes

WIDTHS = (100.0, 150.0, 200.0, 300.0, 400.0, 550.0, 750.0, 1000.0)  # [rpm]
MIN_DEPTH = 0.006  # relative; a shallower dip is of no use to anyone
FALSE_ALARM = 0.010  # per set of pulls, before the competition
_MARGINS = (150.0, 100.0)  # [rpm] of shoulder beside the foot of a dip, at the start and the end
SINGLE_DOF = 30.0


@dataclass(frozen=True)
class ForceCurve:
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

    def scan(self, width: float) -> Scan:
        return _scan(round(float(self.x[0]), 6), self.x.size, self.step, width, self.smoothing)


@dataclass(frozen=True)
class Scan:
    """Heights of dips of one width: operators (c, g) at their centres (c,)."""

    centres: Floats
    operators: Floats


@lru_cache(maxsize=128)
def _scan(first: float, size: int, step: float, width: float, smoothing: float) -> Scan:
    x = first + step * np.arange(size, dtype=np.float64)
    low, high = x[0] + width + _MARGINS[0], x[-1] - width - _MARGINS[1]
    centres = np.arange(low, high + 1, step / 2 if width <= 200 else step)
    if centres.size < 3:
        return Scan(centres[:0], np.zeros((0, size)))
    basis = dip_shapes.course(x, max(3 * width, 500.0))
    dips = dip_shapes.freed(dip_shapes.dips(width, smoothing, x, centres), basis)
    return Scan(centres, -dips / (dips**2).sum(axis=1, keepdims=True))


@dataclass(frozen=True)
class Noise:
    """Standard deviation of a dip's height in ONE pull, with its degrees of freedom, by width."""

    by_width: Mapping[float, tuple[float, float]]
    reach: float

    def t(self, width: float, alarm: float) -> float:
        trials = 2 * self.reach / width * len(self.by_width)
        return student.quantile(1 - alarm / trials, self.by_width[width][1])


def noise_of(scene: ForceCurve, pulls: Floats, single: Floats | None) -> Noise:
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
        return Noise(dict(zip(widths, ((s, SINGLE_DOF) for s in raw), strict=True)), scene.reach)
    apart = pulls[:, shared] - pulls[:, shared].mean(axis=0)
    n = len(pulls) - 1
    squares = [((apart @ short.scan(w).operators.T) ** 2).sum(axis=0).mean() for w in widths]
    raw = [floor(math.sqrt(float(square) / n)) for square in squares]
    dof = np.array([n * max(0.66 * short.reach / w, 1.0) for w in widths])
    if len(widths) > 3:
        logs = np.log(widths)
        fit = np.polynomial.Polynomial.fit(logs, np.log(raw), 2, w=np.sqrt(dof))
        raw, dof = np.exp(fit(logs)).tolist(), 1.5 * dof
    known = dict(zip(widths, zip(raw, dof.tolist(), strict=True), strict=True))
    last = known[widths[-1]]  # wider dips than the shared range has room for: no less noise
    return Noise({w: known.get(w, last) for w in scene.widths()}, scene.reach)


def _propagated(operators: Floats, single: Floats) -> float:
    return floor(float(np.sqrt(((operators * single) ** 2).sum(axis=1)).mean()))


def floor(deviation: float) -> float:
    return max(deviation, 1e-6)


@dataclass(frozen=True)
class Hit:
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

    def shape(self, scene: ForceCurve) -> Floats:
        """The dip itself (g,), positive."""
        rows = dip_shapes.dips(self.width, scene.smoothing, scene.x, self.at)
        return np.asarray(self.height * rows[0], dtype=np.float64)

    def overlaps(self, other: Hit) -> bool:
        return abs(self.at - other.at) <= self.width + other.width


# The limits of the competition. A fall of the residual sum of squares is counted in units of the
# variance that noise alone would make of it.
HOLDS = 0.5  # of what the course leaves: as much the dip explains at least
# Of the best rival: by so much, three standard deviations of noise, since at two and a half noise
# alone passes for dips; and by so much of what the course leaves, since the shape of a real dip is
# not quite the one that is fitted.
AHEAD, AHEAD_SHARE = 9.0, 0.02
LEFT = 0.70  # what it leaves over what its best rival leaves
RINGS, RINGS_SHARE = 6.0, 0.12  # a damped answer ahead by so much, and by so much of that
RINGS_AT_START, NEAR_START = 20.0, 900.0  # the same by this alone, so near [rpm] the start
RING_REACH, RING_SPACING = 1200.0, 700.0  # [rpm] beside a dip, and of the knots of the course there
TWO, TWO_SHARE = 25.0, 0.10  # the same for the best two rivals together
WINDOW = (2.3, 350.0)  # shoulders beside a dip: in its widths, at least [rpm]


def compete(
    scene: ForceCurve, place: float, width: float, noise: tuple[float, float]
) -> Hit | None:
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
    return Hit(float(at), float(wide), height, deviation, dof, first, operator)


def _rings(scene: ForceCurve, place: float, width: float, deviation: float) -> bool:
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


def depth_of(scene: ForceCurve, hit: Hit) -> float:
    return hit.height / (scene.at(hit.at) + hit.height)
