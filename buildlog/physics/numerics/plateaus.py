"""Channels that stop following: clipped at a range, cut by a limiter, relieved near a setting.

A plateau is a stretch, not a sample: it must last over a stated part of the axis. What is
found here is where a channel stood still and how near a stated setting that was; which
part of the car held it there, a log does not say.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from buildlog.physics.numerics.regression import RPM, Floats

HOLD = 200 * RPM  # [rad/s]
LIMITER_SHARE = 0.015  # below the highest speed; common practice, no source

# Ends of range of channels that are often logged, SI. SAE J1979 service 01 [secondary].
CHANNEL_RANGES: Mapping[str, float] = {
    "manifold absolute pressure, one byte": 255e3,
    "road speed, one byte": 255 / 3.6,
    "engine speed, two bytes": 16383.75 * RPM,
}


@dataclass(frozen=True)
class Plateau:
    """Rows first..last (inclusive, 0-based) over which a channel stood at `value`.

    `start`, `end` are the places on the axis; `range_name` names the end of a known range
    when the value is one.
    """

    first: int
    last: int
    start: float
    end: float
    value: float
    range_name: str | None = None


def clipped(
    axis: ArrayLike,
    values: ArrayLike,
    *,
    hold: float = HOLD,
    ranges: Mapping[str, float] = CHANNEL_RANGES,
) -> Plateau | None:
    """Whether a channel is cut off at its top: exactly its highest value over a stretch.

    Inputs: axis (n,) rising but for its noise [rad/s], values (n,). A channel that is only
    coarse (steps as wide as its noise) repeats values everywhere; it counts as clipped only
    if the run at the top is at least four times as long as its longest run elsewhere, or if
    the top is the end of a range in `ranges`. None if it is not clipped. A constant channel
    is stuck, not clipped: ValueError.
    """
    x, v = _pair(axis, values)
    top = float(np.nanmax(v))
    if top == float(np.nanmin(v)):
        raise ValueError(f"The channel is stuck at {top:g} over all {v.size} rows.")
    first, last = _longest(v == top)
    name = next((n for n, end in ranges.items() if abs(top - end) <= 1e-3 * end), None)
    if (
        last - first + 1 < 5
        or np.nanmax(x[first : last + 1]) - np.nanmin(x[first : last + 1]) < hold
    ):
        return None
    elsewhere = _longest_repeat(np.where(v == top, np.nan, v))
    if name is None and last - first + 1 < 4 * elsewhere:
        return None
    return Plateau(first, last, float(x[first]), float(x[last]), top, name)


def speed_limiter(time: ArrayLike, omega: ArrayLike, *, hold_time: float = 0.25) -> Plateau | None:
    """Engine speed that rises no further while the pull goes on: a speed limiter.

    Inputs: time (n,) [s] rising, omega (n,) [rad/s]. The stretch within 1.5 % of the
    highest speed must last `hold_time` AND three times longer than the rate just before
    would need for that 1.5 %. `start`, `end` [s]. None if speed simply turns round.
    """
    t, w = _pair(time, omega)
    top = float(np.nanmax(w))
    first, last = _longest(_bridged(w >= top * (1 - LIMITER_SHARE), 2))
    band = top * LIMITER_SHARE
    before = np.flatnonzero((np.arange(w.size) < first) & (w >= top * (1 - 8 * LIMITER_SHARE)))
    if last < first or before.size < 3:
        return None
    gain = float(w[before[-1]] - w[before[0]])
    duration = float(t[before[-1]] - t[before[0]])
    stay = float(t[last] - t[first])
    if gain <= 0 or duration <= 0 or stay < max(hold_time, 3 * band * duration / gain):
        return None
    return Plateau(
        first, last, float(t[first]), float(t[last]), float(np.nanmean(w[first : last + 1]))
    )


@dataclass(frozen=True)
class ReliefSign:
    """A sag where boost stood near a relief setting and power climbed on afterwards.

    `boost` at the sag in the unit of the setting, `ratio` to it, `climb` of power from
    before the sag to after it, relative.
    """

    boost: float
    ratio: float
    climb: float


def relief_sign(
    axis: ArrayLike,
    power: ArrayLike,
    boost: ArrayLike,
    setting: float,
    sag_at: float,
    sag_width: float,
    *,
    near: float = 0.08,
) -> ReliefSign | None:
    """Whether a sag looks like a relief opening near its set pressure.

    That is, by common practice (no source): a short sag in the upper half of the range,
    with boost within `near` of the setting, after which power climbs on above what it was
    before. Inputs on one grid (g,): axis, power [W], boost and setting in one unit (gauge);
    the sag's place and width on the axis. None if any of the three is not so.
    """
    x, p = _pair(axis, power)
    _, b = _pair(axis, boost)
    at, before, after = (float(np.interp(sag_at + k * sag_width, x, p)) for k in (0.0, -1.25, 1.25))
    level = float(np.interp(sag_at, x, b))
    upper = sag_at >= 0.5 * (float(np.nanmin(x)) + float(np.nanmax(x)))
    covered = sag_at + 1.25 * sag_width <= float(np.nanmax(x))
    ratio = level / setting if setting > 0 else np.nan
    if not (upper and covered and abs(ratio - 1) <= near and after > before and after > at):
        return None
    return ReliefSign(level, ratio, after / before - 1)


def _pair(axis: ArrayLike, values: ArrayLike) -> tuple[Floats, Floats]:
    x, v = np.asarray(axis, float).ravel(), np.asarray(values, float).ravel()
    if x.size != v.size:
        raise ValueError(f"The axis has {x.size} rows but the channel has {v.size}.")
    if not np.isfinite(v).any():
        raise ValueError("The channel holds no numbers.")
    return x, v


def _longest(inside: NDArray[np.bool_]) -> tuple[int, int]:
    """First and last row of the longest stretch of True; (0, -1) if there is none."""
    padded = np.concatenate([[False], inside, [False]])
    edges = np.flatnonzero(padded[1:] != padded[:-1])
    if edges.size == 0:
        return 0, -1
    starts, ends = edges[::2], edges[1::2]
    best = int(np.argmax(ends - starts))
    return int(starts[best]), int(ends[best]) - 1


def _longest_repeat(v: Floats) -> int:
    """Rows in the longest run of one repeated value."""
    first, last = _longest(np.diff(v) == 0)
    return last - first + 2 if last >= first else 1


def _bridged(inside: NDArray[np.bool_], gap: int) -> NDArray[np.bool_]:
    """Fill gaps of at most `gap` rows between True rows."""
    rows = np.flatnonzero(inside)
    out = inside.copy()
    for k in range(1, gap + 1):
        short = np.flatnonzero(np.diff(rows) == k + 1)
        for step in range(1, k + 1):
            out[rows[short] + step] = True
    return out
