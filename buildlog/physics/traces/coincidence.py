"""Which other channels leave their own course where a sag lies, by the same contest."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from buildlog.physics.numerics import student
from buildlog.physics.numerics.regression import RPM, Floats
from buildlog.physics.traces import dip_shapes
from buildlog.physics.traces.dip_contest import SINGLE_DOF, ForceCurve, Hit, Scan, compete, floor
from buildlog.physics.traces.sags import SMOOTHING, Sag


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
        scene = ForceCurve(x, sign * (mean - low) / span, count, smoothing)
        for strength, hit in _changes(scene, sign * rows / span, place):
            if best is None or strength > best[0]:
                level = float(np.interp(hit.at, x, mean))
                best = strength, -sign * hit.height * span, level, hit.at
    return None if best is None else best[1:]


def _changes(scene: ForceCurve, rows: Floats, place: _Place) -> Iterator[tuple[float, Hit]]:
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
    scan: Scan, rows: Floats, rest: Floats, independent: float
) -> tuple[float, float]:
    """Deviation of a height in one pull: between the pulls, or along the curve of a single one,
    by the heights that are left when the change itself is taken out."""
    if len(rows) > 1:
        apart = (rows - rows.mean(axis=0)) @ scan.operators.T
        square = float((apart**2).sum(axis=0).mean()) / (len(rows) - 1)
        return floor(math.sqrt(square)), (len(rows) - 1) * max(0.66 * independent, 1.0)
    return floor(1.4826 * float(np.median(np.abs(rest - np.median(rest))))), SINGLE_DOF
