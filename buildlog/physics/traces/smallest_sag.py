"""From which depth a sag would have shown, found by trying: dips put into the very curve."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from buildlog.physics.traces import dip_shapes
from buildlog.physics.traces.dip_contest import (
    FALSE_ALARM,
    MIN_DEPTH,
    ForceCurve,
    Noise,
    compete,
    depth_of,
)


@dataclass(frozen=True)
class Smallest:
    """Relative depth from which a sag whose middle lies between two places (in the unit of the
    axis) would be reported 9 times in 10; `whole` where these are as far as one is sought."""

    depth: float
    low: float
    high: float
    whole: bool


_PLACES = 11  # along the curve, at which dips are tried
_ENOUGH = 4  # of these in a row must show one for anything to be said
_DEPTHS = tuple(MIN_DEPTH * 1.25**k for k in range(13))  # that are tried: up to 9 %
_OTHER_SHAPES = 1.1  # by so much deeper a dip that is no raised cosine must be


def smallest_of(scene: ForceCurve, width: float, noise: Noise, unit: float) -> Smallest | None:
    """From which depth dips of this width show at nine places in ten of this very curve; None
    where hardly any stretch of it shows even a deep one.

    Tried: dips are put into the curve at places all along it, and the search is asked. A step, a
    knee or a swing may explain a dip beside it, so that no depth is enough there.
    """
    centres = scene.scan(width).centres
    places = np.unique(np.linspace(0, centres.size - 1, _PLACES).round().astype(int))
    least = [_least(scene, int(place), width, noise) for place in places]
    first, last = _longest([math.isfinite(depth) for depth in least])
    whole = last - first == len(least)
    if not whole:  # where a hidden stretch begins between two tried places is not known
        first, last = first + (first > 0), last - (last < len(least))
    if last - first < _ENOUGH:
        return None
    depth = sorted(least[first:last])[math.ceil(0.9 * (last - first)) - 1]
    deviation = noise.by_width[width][0] / math.sqrt(float(scene.count.max()))
    low, high = (float(centres[places[i]]) * unit for i in (first, last - 1))
    return Smallest(_OTHER_SHAPES * depth + deviation, low, high, whole)


def _longest(flags: Sequence[bool]) -> tuple[int, int]:
    """First and one past the last of the longest run of true ones."""
    runs, begun = [(0, 0)], 0
    for i, flag in enumerate([*flags, False]):
        if not flag:
            runs, begun = [*runs, (begun, i)], i + 1
    return max(runs, key=lambda run: run[1] - run[0])


def _least(scene: ForceCurve, place: int, width: float, noise: Noise) -> float:
    """The least of the tried depths from which a dip at a place of a scan shows; else infinite."""
    scan = scene.scan(width)
    dip = dip_shapes.dips(width, scene.smoothing, scene.x, scan.centres[place])[0]
    known = noise.by_width[width]
    threshold = noise.t(width, FALSE_ALARM) * known[0]

    def shows(depth: float) -> bool:
        dipped = replace(scene, force=scene.force * (1 - depth * dip))
        at = float(scan.centres[place])
        height = float(scan.operators[place] @ dipped.force)
        if height < threshold / math.sqrt(scene.pulls_at(at)):
            return False
        hit = compete(dipped, at, width, known)
        return hit is not None and depth_of(dipped, hit) >= MIN_DEPTH

    first = bisect_left(_DEPTHS, True, key=shows)
    return _DEPTHS[first] if first < len(_DEPTHS) else math.inf
