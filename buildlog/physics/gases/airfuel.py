"""Mixture from an air-fuel log: lambda by load region, and the worst that was sustained.

Everything is judged in lambda. An instrument that displays an air-fuel ratio measures
lambda and multiplies it by a number set in it; that number, not the fuel in the tank,
takes it back to lambda. Usual ranges are common practice and have no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from buildlog.physics.numerics.middle import median
from buildlog.physics.numerics.regression import RPM, Floats

DISPLAY_STOICHIOMETRIC = 14.7  # what most instruments are set to; an assumption, to be stated
HOLD_TIME = 0.3  # [s]
HOLD_SPEED = 200 * RPM  # [rad/s]
PLAUSIBLE = (0.5, 2.0)  # a wideband sensor reads nothing meaningful beyond; common practice
FULL_LOAD_SHARE = 0.90  # of throttle, or of ambient pressure in the manifold
CRUISE_SHARE = 0.60  # manifold pressure over ambient
BOOST_SHARE = 1.05

Region = Literal["cruise", "tip-in", "part load", "full load unboosted", "boosted"]
REGIONS: tuple[Region, ...] = ("cruise", "tip-in", "part load", "full load unboosted", "boosted")

# gasoline; common practice, no source
USUAL_RANGES: Mapping[Region, tuple[float, float]] = {
    "cruise": (0.97, 1.01),
    "tip-in": (0.88, 0.95),
    "full load unboosted": (0.85, 0.90),
    "boosted": (0.78, 0.85),
}


def lambda_from_ratio(
    air_fuel_ratio: ArrayLike, display_stoichiometric: float = DISPLAY_STOICHIOMETRIC
) -> Floats:
    """lambda = displayed air-fuel ratio / the instrument's own stoichiometric number.

    Input (n,), dimensionless. Whatever the fuel: E85 at lambda 0.85 shows as 12.5 on an
    instrument set to 14.7.

    >>> lambda_from_ratio([12.495, 14.7]).tolist()
    [0.85, 1.0]
    """
    if not 1 < display_stoichiometric < 50:
        raise ValueError(
            f"{display_stoichiometric:g} is no fuel's stoichiometric ratio; gasoline is near 14.7."
        )
    return np.asarray(air_fuel_ratio, dtype=np.float64) / display_stoichiometric


def load_regions(
    *,
    manifold_pressure: ArrayLike | None = None,
    throttle: ArrayLike | None = None,
    time: ArrayLike | None = None,
    ambient: float = 101325.0,
) -> NDArray[np.str_]:
    """The load region of every row (n,), "" where the channels do not tell.

    Inputs: absolute manifold pressure (n,) [Pa], throttle (n,) 0..1, time (n,) [s] for
    tip-in, ambient pressure [Pa]. Boosted above 1.05 of ambient; full load from 0.90 of
    ambient (or of throttle, without a pressure channel); cruise below 0.60; tip-in while
    pressure rises by more than 0.3 of ambient per second below full load, and for 0.5 s
    after. Borders are common practice, no source.
    """
    if manifold_pressure is None and throttle is None:
        raise ValueError("A load region needs manifold pressure or throttle.")
    if manifold_pressure is None:
        opening = np.asarray(throttle, dtype=np.float64)
        full = np.where(opening >= FULL_LOAD_SHARE, "full load unboosted", "part load")
        return np.where(np.isfinite(opening), full, "")
    share = np.asarray(manifold_pressure, dtype=np.float64) / ambient
    levels = [share > BOOST_SHARE, share >= FULL_LOAD_SHARE, share >= CRUISE_SHARE, share >= 0]
    names: list[Region] = ["boosted", "full load unboosted", "part load", "cruise"]
    out = np.select(levels, names, default="")
    if time is not None:
        tip = _tip_in(np.asarray(time, dtype=np.float64), share) & (share < FULL_LOAD_SHARE)
        out = np.where(tip, "tip-in", out)
    return out


def _tip_in(t: Floats, share: Floats) -> NDArray[np.bool_]:
    """Rows within half a second of manifold pressure rising by 0.3 of ambient per second."""
    if t.size < 2:
        return np.zeros(t.shape, dtype=bool)
    before = np.interp(t - 0.2, t, share)
    rising = (share - before) / 0.2 > 0.3
    last = np.maximum.accumulate(np.where(rising, t, -np.inf))
    return np.asarray(t - last <= 0.5, dtype=np.bool_)


@dataclass(frozen=True)
class Sustained:
    """The leanest (or richest) lambda that was held, and between which rows (inclusive)."""

    value: float
    first: int
    last: int


def sustained(
    values: ArrayLike,
    *,
    time: ArrayLike | None = None,
    axis: ArrayLike | None = None,
    leanest: bool = True,
    hold_time: float = HOLD_TIME,
    hold_axis: float = HOLD_SPEED,
) -> Sustained | None:
    """The worst value that lasted at least `hold_time` [s] or `hold_axis` of a rising axis.

    Inputs: values (n,), NaN where invalid; time (n,) [s]; axis (n,) [rad/s]; at least one
    of the two. Worst = the highest value (leanest) that lambda did not fall below over
    the whole hold; for `leanest=False` the lowest it did not rise above. A spike shorter
    than the hold therefore does not count. None if no stretch lasts that long.
    """
    v = np.asarray(values, dtype=np.float64).ravel()
    if time is None and axis is None:
        raise ValueError("A sustained value needs time or engine speed to be held over.")
    found = [
        best
        for scale, hold in ((time, hold_time), (axis, hold_axis))
        if scale is not None
        and (best := _held(v if leanest else -v, np.asarray(scale, float).ravel(), hold))
    ]
    if not found:
        return None
    value, first, last = max(found)
    return Sustained(value if leanest else -value, first, last)


def _held(v: Floats, scale: Floats, hold: float) -> tuple[float, int, int] | None:
    """(value, first, last): the highest of the lows over windows of `hold` on a scale."""
    if v.size != scale.size:
        raise ValueError(f"There are {v.size} values but {scale.size} places.")
    ahead = np.where(np.isfinite(scale), scale, -np.inf)
    ahead = np.maximum.accumulate(ahead)  # a noisy engine speed backs up; the hold does not
    last = np.searchsorted(ahead, ahead + hold * (1 - 1e-9), side="left")
    first = np.flatnonzero((last < v.size) & np.isfinite(ahead))
    if first.size == 0:
        return None
    lows = _range_minimum(np.where(np.isfinite(v), v, -np.inf), first, last[first])
    best = int(np.argmax(lows))
    if not np.isfinite(lows[best]):
        return None
    return float(lows[best]), int(first[best]), int(last[first[best]])


def _range_minimum(v: Floats, first: NDArray[np.intp], last: NDArray[np.intp]) -> Floats:
    """Minimum of v[first..last] for many ranges: two overlapping powers of two cover each."""
    level = np.floor(np.log2(last - first + 1)).astype(int)
    out = np.empty(first.size)
    table, span = v, 0
    for power in range(int(level.max()) + 1):
        if power > 0:
            table = np.minimum(table[: table.size - span], table[span:])
        span = 1 << power
        here = level == power
        out[here] = np.minimum(table[first[here]], table[last[here] - span + 1])
    return out


@dataclass(frozen=True)
class RegionMixture:
    """Lambda in one load region. `leanest`, `richest`: what was sustained there, or None.

    `rows` are those with a plausible reading, `ignored` those outside 0.5 to 2.0.
    """

    region: Region
    rows: int
    ignored: int
    median: float
    leanest: Sustained | None
    richest: Sustained | None


def by_region(
    lam: ArrayLike,
    regions: ArrayLike,
    *,
    time: ArrayLike | None = None,
    axis: ArrayLike | None = None,
    hold_time: float = HOLD_TIME,
    hold_axis: float = HOLD_SPEED,
) -> tuple[RegionMixture, ...]:
    """Median and sustained extremes of lambda (n,) in every region that occurs.

    Rows outside the region or the plausible range break a hold, so that two short
    stretches never add up to one. Order: cruise first, boosted last.
    """
    values, names = np.asarray(lam, dtype=np.float64).ravel(), np.asarray(regions)
    if values.size != names.size:
        raise ValueError(f"There are {values.size} readings but {names.size} regions.")
    good = (values >= PLAUSIBLE[0]) & (values <= PLAUSIBLE[1])
    result = []
    for region in REGIONS:
        here = names == region
        if not (here & good).any():
            continue
        own = np.where(here & good, values, np.nan)
        worst = [
            sustained(
                own, time=time, axis=axis, leanest=lean, hold_time=hold_time, hold_axis=hold_axis
            )
            for lean in (True, False)
        ]
        ignored = int((here & ~good).sum())
        middle = median(values[here & good])
        result.append(RegionMixture(region, int((here & good).sum()), ignored, middle, *worst))
    return tuple(result)


@dataclass(frozen=True)
class Judged:
    """Where a lambda lies against a range: `distance` to the nearer edge, 0 inside."""

    verdict: Literal["leaner than usual", "within the usual range", "richer than usual"]
    distance: float


def judge(lam: float, usual: tuple[float, float]) -> Judged:
    """Compare a lambda with a range (declared target band or `USUAL_RANGES`).

    >>> judge(0.87, USUAL_RANGES["boosted"])
    Judged(verdict='leaner than usual', distance=0.02)
    """
    low, high = usual
    if lam > high + 1e-9:
        return Judged("leaner than usual", lam - high)
    if lam < low - 1e-9:
        return Judged("richer than usual", low - lam)
    return Judged("within the usual range", 0.0)
