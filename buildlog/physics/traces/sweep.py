"""Which rows of a recording are the full-load sweep, and what was cut.

The rule, in order:
1. Rows that are not numbers are left out; a stuck axis or an empty file is refused.
2. The axis is cut into rises: a rise ends where the axis falls back by more than
   the reversal tolerance (12 times its noise, at least 2 % of its range) or where
   time jumps. The rise that covers the most axis is the sweep.
3. At its ends, rows where the pull had not begun or was over are dropped: torque
   (power over axis) below a stated share of what it is just inside.
4. Within it, rows that back up by more than 8 times the noise, repeat the row before, or
   show power below zero are dropped.
Nothing is reordered; everything cut is counted and named.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from buildlog.physics.numerics.middle import median
from buildlog.physics.numerics.regression import Floats

Rows = NDArray[np.intp]
Reason = Literal[
    "not a number",
    "outside the rise",
    "before the pull",
    "lift-off or limiter",
    "backing up",
    "repeated row",
    "power below zero",
]
Flag = Literal[
    "in falling order", "in no order", "time jumps", "time runs backwards", "several runs"
]

# The highest of many noisy rows lies some five sigma up, so nearer would cut good rows.
BACKING_UP, REVERSAL = 8, 12  # times the noise of the axis
REVERSAL_SHARE = 0.02  # of the range; a fall smaller than this never ends a pull
LEAD_IN_SHARE = 0.30  # of the torque just inside: a turbocharged engine starts low
LIFT_OFF_SHARE = 0.60  # of the torque just inside: power never falls so fast by itself
FULL_SHARE = 0.90  # of the torque just inside: where a ramp to or from full load ends
END_WINDOW = 0.10  # of the sweep's range: how far "just inside" reaches
MIN_ROWS = 10  # fewer rows make a point, not a curve


@dataclass(frozen=True)
class Cut:
    """Rows left out for one reason: how many, from which row to which (0-based)."""

    reason: Reason
    count: int
    first: int
    last: int


@dataclass(frozen=True)
class Sweep:
    """The rows of the full-load sweep and an account of the others.

    `index` (m,) are 0-based rows in the order in which the axis rises. `noise` is the
    standard deviation of the axis about a straight local course, in its unit.
    rows kept + rows in all cuts = rows given.
    """

    index: Rows
    cut_before: tuple[Cut, ...]
    cut_after: tuple[Cut, ...]
    cut_within: tuple[Cut, ...]
    noise: float
    flags: tuple[Flag, ...]
    rows: int

    def sentences(self) -> tuple[str, ...]:
        """What was cut, in words with 1-based rows; empty when every row was kept."""
        places = (
            ("before", self.cut_before),
            ("after", self.cut_after),
            ("within", self.cut_within),
        )
        said = [
            f"{cut.count} {'row' if cut.count == 1 else 'rows'} {place} the sweep left out "
            f"({cut.reason}; rows {cut.first + 1}-{cut.last + 1})."
            for place, cuts in places
            for cut in cuts
        ]
        return tuple(said + [_FLAG_WORDS[flag] for flag in self.flags])


_FLAG_WORDS: dict[Flag, str] = {
    "in falling order": "The rows run from high to low; they were read in reverse.",
    "in no order": "The rows are in no order; they were sorted along the axis.",
    "time jumps": "Time jumps in this file; no pull was taken across a jump.",
    "time runs backwards": "Time runs backwards in this file; no pull was taken across the place.",
    "several runs": "The file holds more than one pull; the one over the widest range was taken.",
}


def trim_sweep(
    axis: ArrayLike, power: ArrayLike | None = None, *, time: ArrayLike | None = None
) -> Sweep:
    """Find the full-load sweep by the rule at the head of this module.

    Inputs: axis (n,) engine speed [rad/s] or road speed [m/s]; power (n,) [W], without
    which ends are not trimmed by load; time (n,) [s]. Any of them may hold NaN.
    Result: Sweep. Errors: ValueError for fewer than two numbers on the axis, a stuck
    axis, unequal lengths, fewer than 10 rows left, or power below zero in most of the rise.

    >>> speed = np.concatenate([np.full(20, 200.0), np.linspace(200, 600, 100), [550, 400, 300]])
    >>> sweep = trim_sweep(speed)
    >>> len(sweep.index), sweep.cut_after[0].reason, sweep.cut_after[0].count
    (120, 'outside the rise', 3)
    """
    x, p, t = _checked(axis, power, time)
    finite = np.isfinite(x) if p is None else np.isfinite(x) & np.isfinite(p)
    if t is not None:
        finite &= np.isfinite(t)
    rows = np.flatnonzero(finite)
    _refuse_hopeless(x, rows)
    rows, flags = _ordered(x, rows, timed=t is not None)
    sigma = axis_noise(x[rows])
    pieces, more = _pieces(None if t is None else t[rows], rows.size)
    rises = [r for first, last in pieces for r in _rises(x[rows], first, last, sigma)]
    begin, end = max(rises, key=lambda r: float(x[rows[r[1]]] - x[rows[r[0]]]))
    reach = float(x[rows[end]] - x[rows[begin]])
    if sum(float(x[rows[b]] - x[rows[a]]) > 0.5 * reach for a, b in rises) > 1:
        more = (*more, "several runs")
    return _account(x, p, rows, begin, end, sigma, (*flags, *more))


def axis_noise(values: Floats) -> float:
    """Standard deviation of a channel about a straight local course.

    From second differences by the median absolute deviation (1.4826 MAD/sqrt 6), so
    that turning points and single spikes do not count. [unit of the channel]
    """
    if values.size < 5:
        return 0.0
    second = np.diff(values, 2)
    return 1.4826 * median(np.abs(second - median(second))) / math.sqrt(6)


def _checked(
    axis: ArrayLike, power: ArrayLike | None, time: ArrayLike | None
) -> tuple[Floats, Floats | None, Floats | None]:
    x = np.asarray(axis, dtype=np.float64).ravel()
    others = [None if c is None else np.asarray(c, dtype=np.float64).ravel() for c in (power, time)]
    for name, channel in zip(("power", "time"), others, strict=True):
        if channel is not None and channel.size != x.size:
            raise ValueError(f"The axis has {x.size} rows but {name} has {channel.size}.")
    return x, others[0], others[1]


def _refuse_hopeless(x: Floats, rows: Rows) -> None:
    if rows.size < 2:
        raise ValueError(
            f"A pull needs at least two rows with numbers in them; this one has {rows.size}."
        )
    values = x[rows]
    if float(values.max()) == float(values.min()):
        raise ValueError(f"The axis is stuck at {values[0]:g} over all {rows.size} rows.")


def _ordered(x: Floats, rows: Rows, *, timed: bool) -> tuple[Rows, tuple[Flag, ...]]:
    """Put a table without time the right way round; a recording with time stays as it is."""
    if timed:
        return rows, ()
    steps = np.diff(x[rows])
    travel, reach = float(np.abs(steps).sum()), float(np.ptp(x[rows]))
    if median(np.abs(steps)) > 0.1 * reach and travel > 4 * reach:
        return rows[np.argsort(x[rows], kind="stable")], ("in no order",)
    if float(x[rows[-1]] - x[rows[0]]) < -0.8 * reach and travel < 1.5 * reach:
        return rows[::-1], ("in falling order",)
    return rows, ()


def _pieces(t: Floats | None, count: int) -> tuple[list[tuple[int, int]], tuple[Flag, ...]]:
    """Stretches of rows (inclusive) over which time runs on without a jump."""
    if t is None or count < 3:
        return [(0, count - 1)], ()
    steps = np.diff(t)
    onward = steps[steps > 0]
    usual = median(onward) if onward.size else 0.0
    backwards, jumps = steps < 0, steps > max(20 * usual, 1.0)
    breaks = np.flatnonzero(backwards | jumps)
    starts, ends = [0, *(breaks + 1).tolist()], [*breaks.tolist(), count - 1]
    flags: list[Flag] = []
    if jumps.any():
        flags.append("time jumps")
    if backwards.any():
        flags.append("time runs backwards")
    return list(zip(starts, ends, strict=True)), tuple(flags)


def _rises(values: Floats, first: int, last: int, sigma: float) -> Iterator[tuple[int, int]]:
    """Rises (low row, high row) between turning points deeper than the tolerance."""
    tolerance = max(REVERSAL * sigma, REVERSAL_SHARE * float(np.ptp(values)))
    part = values[first : last + 1]
    here = 0
    while here < part.size:
        turn = _first_reversal(part, here, tolerance, falling=False)
        high = here + int(np.argmax(part[here : turn + 1]))
        yield first + here, first + high
        if turn >= part.size - 1:
            return
        back = _first_reversal(part, high, tolerance, falling=True)
        here = high + int(np.argmin(part[high : back + 1]))
        if back >= part.size - 1:
            return


def _first_reversal(part: Floats, start: int, tolerance: float, *, falling: bool) -> int:
    """First row that has turned back by more than the tolerance, else the last row.

    Works in growing blocks: ten million rows with many runs are read about once.
    """
    sign = -1.0 if falling else 1.0
    best, block, here = -math.inf, 4096, start
    while here < part.size:
        values = sign * part[here : here + block]
        highest = np.maximum(np.maximum.accumulate(values), best)
        turned = highest - values > tolerance
        if turned.any():
            return here + int(np.argmax(turned))
        best, here, block = float(highest[-1]), here + block, block * 2
    return part.size - 1


def _account(
    x: Floats,
    p: Floats | None,
    rows: Rows,
    begin: int,
    end: int,
    sigma: float,
    flags: tuple[Flag, ...],
) -> Sweep:
    """Trim the ends and the inside of the chosen rise and name every row left out."""
    codes = np.full(x.size, _CODE["not a number"], dtype=np.uint8)
    codes[rows] = _CODE["outside the rise"]
    chosen = rows[begin : end + 1]
    lead, lift = (0, 0) if p is None else _ends(x[chosen], p[chosen])
    codes[chosen[:lead]] = _CODE["before the pull"]
    codes[chosen[chosen.size - lift :]] = _CODE["lift-off or limiter"]
    core = chosen[lead : chosen.size - lift]
    codes[core] = _inside(x[core], None if p is None else p[core], sigma)
    index = core[codes[core] == 0]
    if index.size < MIN_ROWS:
        raise ValueError(
            f"Only {index.size} of {x.size} rows belong to a full-load sweep; "
            f"at least {MIN_ROWS} are needed."
        )
    zone = np.where(
        np.arange(x.size) < core.min(), 0, np.where(np.arange(x.size) > core.max(), 2, 1)
    )
    zone[rows[: begin + lead]], zone[rows[end + 1 - lift :]] = 0, 2
    before, within, after = (_cuts(codes, zone == k) for k in range(3))
    return Sweep(index, before, after, within, sigma, flags, x.size)


_CODE: dict[Reason, int] = {
    reason: code for code, reason in enumerate(get_args(Reason), start=1)
}  # 0 is a row that is kept


def _cuts(codes: NDArray[np.uint8], here: NDArray[np.bool_]) -> tuple[Cut, ...]:
    found = []
    for reason, code in _CODE.items():
        rows = np.flatnonzero(here & (codes == code))
        if rows.size:
            found.append(Cut(reason, int(rows.size), int(rows[0]), int(rows[-1])))
    return tuple(found)


def _inside(x: Floats, p: Floats | None, sigma: float) -> NDArray[np.uint8]:
    """Codes of the rows within the sweep, 0 for a row that is kept."""
    codes = np.zeros(x.size, dtype=np.uint8)
    if x.size == 0:
        return codes
    codes[np.maximum.accumulate(x) - x > max(BACKING_UP * sigma, 1e-3 * float(np.ptp(x)))] = _CODE[
        "backing up"
    ]
    if p is None:
        return codes
    same = np.flatnonzero((np.diff(x) == 0) & (np.diff(p) == 0)) + 1
    codes[same] = _CODE["repeated row"]
    below = p < 0
    if np.mean(below) > 0.5:
        raise ValueError(
            f"Power is below zero in {int(below.sum())} of {x.size} rows of the sweep: "
            "the channel's sign is reversed or this is not a pull."
        )
    codes[below] = _CODE["power below zero"]
    return codes


def _ends(x: Floats, p: Floats) -> tuple[int, int]:
    """How many rows to drop at the start (not yet full load) and at the end (lift-off)."""
    torque = p / np.where(x > 0, x, np.nan)
    lift = _idle_end(x[::-1], torque[::-1], LIFT_OFF_SHARE)
    lead = _idle_end(x[: x.size - lift], torque[: x.size - lift], LEAD_IN_SHARE)
    return lead, lift


def _idle_end(x: Floats, torque: Floats, share: float) -> int:
    """Rows at this end in which load is not on, with the ramp that leads to it.

    Load is off below `share` of the median torque over the tenth of the range beyond
    the ramp; the ramp is followed until 90 % of that median, at most 3 % of the range.
    """
    reach = float(np.ptp(x)) if x.size else 0.0
    count = 0
    for _ in range(50):  # each turn moves past one stretch of idle rows
        distance = np.abs(x - x[count])
        later = np.arange(x.size) >= count
        inner = later & (distance > 0.03 * reach) & (distance <= (0.03 + END_WINDOW) * reach)
        if inner.sum() < 3:
            break
        level = float(np.nanmedian(torque[inner]))
        ramp = later & (distance <= 0.03 * reach)
        low = np.flatnonzero(ramp & ~(torque >= share * level))
        if low.size == 0:
            break
        past = np.arange(x.size) > low[-1]
        capped = distance > 0.03 * reach + distance[low[-1]]
        full = np.flatnonzero(later & past & (capped | (torque >= FULL_SHARE * level)))
        count = int(full[0]) if full.size else int(low[-1]) + 1
    return count
