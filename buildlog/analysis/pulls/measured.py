"""The measured difference of two groups of pulls: like for like, or saying why not."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from buildlog.analysis.pulls.pull_data import AXIS_SI, AXIS_STEP, AxisName, Floats
from buildlog.analysis.pulls.sheet import PullGroup, Sheet, Top
from buildlog.analysis.pulls.sheet_work import level, top
from buildlog.physics.numerics import regression, repeatability
from buildlog.physics.numerics.levelling import Levelled
from buildlog.physics.numerics.repeatability import DifferenceSource, Scatter
from buildlog.records.checked_paths import field_paths, value_at
from buildlog.records.session import Pull

_SWITCHED = field_paths("nitrous", "charge_injection", model=Pull)


@dataclass(frozen=True)
class Relation:
    """How two machines read the same car: the second over the first.

    `ratio` with its 95 % `half_width` (relative), from `pairs` of visits with one
    configuration; `dof` of the interval. No headline number is ever converted by it.
    """

    first: str
    second: str
    ratio: float
    half_width: float
    pairs: tuple[tuple[str, str], ...]
    ratios: tuple[float, ...]
    dof: float

    @property
    def u_difference(self) -> float:
        """One standard deviation of a difference between the two: their known disagreement,
        which stays in the numbers, and what is not known of it."""
        return math.hypot(math.log(self.ratio), self.half_width / repeatability.Z95)

    @property
    def words(self) -> str:
        """What an interval was widened by."""
        return (
            f"another dyno ({self.second} read {100 * (self.ratio - 1):+.1f} ± "
            f"{100 * self.half_width:.1f} % against {self.first} on the same car)"
        )


@dataclass(frozen=True)
class Delta:
    """One quantity, before and after: peaks with place, mean over the common range [SI]."""

    peak_from: Top
    peak_to: Top
    half_width_95: float
    mean_delta: float
    mean_half_width_95: float

    @property
    def peak_delta(self) -> float:
        """Peak after minus peak before."""
        return self.peak_to.value - self.peak_from.value

    @property
    def beyond_scatter(self) -> bool:
        """Whether the peak's difference is larger than its 95 % half-width."""
        return abs(self.peak_delta) > self.half_width_95

    @property
    def mean_beyond_scatter(self) -> bool:
        """Whether the mean difference is larger than its 95 % half-width."""
        return abs(self.mean_delta) > self.mean_half_width_95


@dataclass(frozen=True)
class Extreme:
    """The largest gain or loss of power along the curve, where, and whether it is shown;
    `relative` is that difference as a share of the power before it.

    `shown` is None where no repeated pull allows a verdict on a largest of many places.
    """

    relative: float
    value: float
    at: float
    shown: bool | None


@dataclass(frozen=True)
class Measured:
    """What was measured before and after, and what may be said about the difference.

    `comparable` is False where the numbers cannot be put side by side at all; `reasons`
    says what is not alike, `parts` how much each reason widens the interval (one standard
    deviation, relative). `grid` in rpm or km/h; `delta` and `half_width` (g,) [W].
    """

    comparable: bool
    reasons: tuple[str, ...]
    parts: tuple[DifferenceSource, ...]
    standard: str
    at: str
    axis: AxisName
    sheets: tuple[Sheet, Sheet]
    groups: tuple[PullGroup, PullGroup]
    scatter: Scatter
    power: Delta
    torque: Delta | None
    torque_reason: str | None
    grid: Floats
    mean_from: Floats
    mean_to: Floats
    half_width: Floats
    largest_gain: Extreme | None
    largest_loss: Extreme | None

    @property
    def delta(self) -> Floats:
        """Power after minus before along the common range [W]."""
        return self.mean_to - self.mean_from

    @property
    def range(self) -> tuple[float, float]:
        """The common range, in rpm or km/h."""
        return float(self.grid[0]), float(self.grid[-1])

    @property
    def pulls(self) -> tuple[int, int]:
        """How many pulls stand behind each side."""
        return self.groups[0].pulls, self.groups[1].pulls


@dataclass(frozen=True)
class _Pair:
    """Two groups of pulls with their sheets, on the axis that both have."""

    sheets: tuple[Sheet, Sheet]
    groups: tuple[PullGroup, PullGroup]
    axis: AxisName

    @property
    def one_visit(self) -> bool:
        return self.sheets[0].name == self.sheets[1].name

    @cached_property
    def grid(self) -> Floats:
        """The range that both sides have been through, each by one pull at least."""
        return _common_grid(self.groups, self.axis)

    @cached_property
    def curves(self) -> list[Floats]:
        """Power of each side's pulls on the grid, (n, g) [W], NaN where a pull has not been."""
        return [np.vstack([c.on(self.axis, self.grid) for c in g.curves]) for g in self.groups]

    @cached_property
    def levels(self) -> list[Levelled]:
        """The mean of each side's pulls, each pull's own level taken out of where it ends."""
        return [level(rows, self.grid) for rows in self.curves]

    @property
    def means(self) -> tuple[Floats, Floats]:
        return self.levels[0].mean, self.levels[1].mean

    def relative(self, relative: float, scatter: Scatter) -> Floats:
        """Relative half-width at each place (g,), from that where all pulls have been."""
        own = repeatability.mean_half_width(scatter, 1)
        fewer = [
            (side.widening() ** 2 - 1) / group.pulls
            for side, group in zip(self.levels, self.groups, strict=True)
        ]
        return np.sqrt(relative**2 + own**2 * (fewer[0] + fewer[1]))

    @property
    def u_speed(self) -> float:
        """Relative standard uncertainty of recovered engine speeds, of both sides together."""
        return math.hypot(*(sheet.u_speed for sheet in self.sheets))


def measured(
    one: Sheet,
    other: Sheet,
    groups: tuple[PullGroup, PullGroup] | None = None,
    *,
    earlier: Iterable[Scatter] = (),
    dynos: Relation | None = None,
    days: DifferenceSource | None = None,
) -> Measured | str:
    """Compare two sheets (their kept groups, or the groups given); a sentence if it cannot be.

    `earlier`: scatter of the same dyno's earlier visits, pooled with that of these two.
    `dynos`: how the two machines read the same car, `days` how much a machine differs from day to
    day, each in place of the default.
    """
    before, after = groups or (one.kept, other.kept)
    if before is None or after is None:
        return "declared, scatter not known: only stated values exist on one side"
    axis = _axis(before, after)
    if axis is None:
        return "one session has engine speed only, the other road speed only"
    pair = _Pair((one, other), (before, after), axis)
    keys, reasons, comparable = _unlike(pair)
    known = {"another day": days} if days else {}
    if dynos:
        known["another dyno"] = DifferenceSource("another dyno", dynos.words, dynos.u_difference)
    u, parts = repeatability.combine_differences(keys, known)
    if (estimate := _road_estimate(pair)) is not None:
        u, parts = math.hypot(u, estimate.u), (*parts, estimate)
        reasons.append(estimate.text)
    if pair.grid.size < 5:
        return "the two have too little range in common"
    scatter = _scatter(pair, earlier)
    relative = repeatability.half_width_95(scatter, before.pulls, after.pulls, u)
    tops = [
        _top_of(sheet, group, axis) for sheet, group in zip(pair.sheets, pair.groups, strict=True)
    ]
    torque, reason = _torque(pair, relative)
    gain, loss = _extremes(pair, u)
    return Measured(
        comparable, tuple(reasons), parts, one.standard, one.at, axis, pair.sheets, pair.groups,
        scatter, _delta(tops, pair.means, relative), torque, reason, pair.grid, *pair.means,
        pair.relative(relative, scatter) * _level(*pair.means) + _shift_width(pair), gain, loss,
    )  # fmt: skip


def _axis(before: PullGroup, after: PullGroup) -> AxisName | None:
    """Engine speed where both have it, else road speed where both have that."""
    for axis in ("engine_speed", "road_speed"):
        if all(axis in c.axis for group in (before, after) for c in group.curves):
            return axis
    return None


def _unlike(pair: _Pair) -> tuple[list[str], list[str], bool]:
    """Keys of the differences that widen the interval, all reasons in words, comparable."""
    one, other = pair.sheets
    comparable = True
    found = [] if pair.one_visit else _visits_unlike(one, other)
    gears = [_gears(s, g) for s, g in zip(pair.sheets, pair.groups, strict=True)]
    if gears[0] != gears[1]:
        found.append(("another gear", f"gears {gears[0]} and {gears[1]}"))
    keys, reasons = [key for key, _ in found], [reason for _, reason in found]
    if one.standard != other.standard:
        comparable = False
        reasons.append(f"standards {one.standard} and {other.standard}")
    elif one.standard == "unknown":
        reasons.append("it is not known which correction is inside either")
    if one.at != other.at:
        comparable = comparable and "crank" not in (one.at, other.at)
        reasons.append(f"measured at the {one.at} and at the {other.at}")
    for path in _SWITCHED:
        uses = [{value_at(c.data.pull, path) or "off" for c in g.curves} for g in pair.groups]
        if uses[0] != uses[1]:
            comparable = False
            reasons.append(f"{path.replace('_', ' ')} used on one side only")
    return keys, reasons, comparable


def _visits_unlike(one: Sheet, other: Sheet) -> list[tuple[str, str]]:
    """What is not alike between two visits: the key of its default and the reason in words."""
    a, b = one.session, other.session
    found = []
    ids = (a.dyno.id if a.dyno else None, b.dyno.id if b.dyno else None)
    if None in ids:
        found.append(("another dyno", "a dyno is not named, so it counts as another one"))
    elif ids[0] != ids[1]:
        found.append(("another dyno", f"two dynos ({ids[0]}, {ids[1]})"))
    elif a.date != b.date:
        found.append(("another day", f"two days on dyno {ids[0]}"))
    if not all((a.tyre_pressure, b.tyre_pressure, a.strapping, b.strapping)):
        found.append(("tire pressure or strapping", "tire pressure or strapping not recorded"))
    return found


def _gears(sheet: Sheet, group: PullGroup) -> str:
    """The gear or gears of a group's pulls, in words."""
    gears = {c.data.pull.gear or sheet.session.gear for c in group.curves}
    known = sorted(gear for gear in gears if gear is not None)
    return " and ".join(map(str, known)) if known and None not in gears else "not recorded"


def _scatter(pair: _Pair, earlier: Iterable[Scatter]) -> Scatter:
    sheets = pair.sheets[:1] if pair.one_visit else pair.sheets
    return repeatability.combine_scatter([*(s.scatter for s in sheets), *earlier]) or (
        repeatability.typical_scatter()
    )


def _road_estimate(pair: _Pair) -> DifferenceSource | None:
    """What the estimate from a road log adds between two visits; on one visit it cancels."""
    us = [sheet.u_power for sheet in pair.sheets]
    if not any(us) or pair.one_visit:
        return None
    text = f"power estimated from a road log on {'both sides' if all(us) else 'one side'}"
    return DifferenceSource("road log", text, math.hypot(*us))


def _common_grid(groups: Sequence[PullGroup], axis: AxisName) -> Floats:
    sides = [[curve.axis[axis] for curve in group.curves] for group in groups]
    low = max(min(float(np.nanmin(values)) for values in side) for side in sides)
    high = min(max(float(np.nanmax(values)) for values in side) for side in sides)
    return regression.grid(low, high, AXIS_STEP[axis]) if high > low else np.empty(0)


def _top_of(sheet: Sheet, group: PullGroup, axis: AxisName) -> Top:
    """The group's peak on the axis of the comparison."""
    if axis == sheet.axis:
        return group.peak_power
    grid = _common_grid([group], axis)
    return top(grid, level(np.vstack([c.on(axis, grid) for c in group.curves]), grid).mean, axis)


def _delta(tops: Sequence[Top], means: Sequence[Floats], relative: float) -> Delta:
    (before, after), (low, high) = tops, (float(np.mean(mean)) for mean in means)
    half, mean_half = _level(before.value, after.value), _level(low, high)
    mean_delta = float(np.mean(means[1] - means[0]))
    return Delta(before, after, relative * float(half), mean_delta, relative * float(mean_half))


def _level(before: ArrayLike, after: ArrayLike) -> Floats:
    """What a relative half-width is a share of: each side scatters about its own level."""
    one, other = (np.asarray(side, dtype=np.float64) for side in (before, after))
    return np.sqrt((one**2 + other**2) / 2)


def _shift_width(pair: _Pair) -> Floats:
    """What an uncertain recovered engine speed adds along the curve: slope times shift."""
    u = pair.u_speed if pair.axis == "engine_speed" else 0.0
    return np.abs(np.gradient(pair.means[0], pair.grid)) * pair.grid * 1.96 * u


def _torque(pair: _Pair, relative: float) -> tuple[Delta | None, str | None]:
    for sheet, group in zip(pair.sheets, pair.groups, strict=True):
        if group.torque is None or group.peak_torque is None:
            return None, f"{sheet.name}: {sheet.torque_reason}"
    tops = [group.peak_torque for group in pair.groups if group.peak_torque]
    if pair.axis != "engine_speed":
        return None, "torque needs engine speed on both sides"
    omega = pair.grid * AXIS_SI[pair.axis]
    wider = math.hypot(relative, 1.96 * pair.u_speed)
    return _delta(tops, [mean / omega for mean in pair.means], wider), None


def _extremes(pair: _Pair, u: float) -> tuple[Extreme | None, Extreme | None]:
    before, after = pair.means
    high = np.minimum(before, after) > repeatability.LEAST_SHARE * float(np.max(before))
    relative = np.where(high, after / np.where(high, before, 1.0) - 1, 0.0)
    n = pair.groups[0].pulls, pair.groups[1].pulls
    try:
        band: float | None = repeatability.simultaneous_half_width(pair.curves, *n, u)
    except ValueError:
        band = None

    def extreme(index: int) -> Extreme:
        value = float(relative[index])
        shown = None if band is None else abs(value) > band
        return Extreme(value, float((after - before)[index]), float(pair.grid[index]), shown)

    delta = after - before
    gain, loss = int(np.argmax(delta)), int(np.argmin(delta))
    return (
        extreme(gain) if delta[gain] > 0 else None,
        extreme(loss) if delta[loss] < 0 else None,
    )
