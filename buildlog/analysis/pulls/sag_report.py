"""Sags of a session: where, how deep, in which pulls, and what else moved there.

The words are "coincides with", never "caused by": a log cannot say what caused a dip.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from buildlog.analysis.pulls.air_fuel import lambda_channel
from buildlog.analysis.pulls.curves import Curve
from buildlog.analysis.pulls.laid_logs import MIXTURE
from buildlog.analysis.pulls.pull_data import AXIS_SI, RPM, AxisName, Floats
from buildlog.analysis.pulls.sheet import PullGroup, Sheet, ambient
from buildlog.errors import BuildlogError
from buildlog.findings import Finding
from buildlog.physics.numerics import plateaus, regression
from buildlog.physics.traces import sags as sag_physics
from buildlog.physics.traces.coincidence import coincides
from buildlog.physics.traces.sags import Sags
from buildlog.physics.traces.smallest_sag import Smallest
from buildlog.records.car.configuration import Configuration
from buildlog.records.session import Column, Session
from buildlog.units import parse

# Channels that say nothing new about a dip of power: the axes, power itself, and bookkeeping.
NOT_BESIDE = frozenset(
    {
        "time", "engine_speed", "road_speed", "roller_speed", "hub_speed", "distance", "power",
        "power_front", "power_rear", "power_loss", "torque", "tractive_force", "gear",
        "run_number", "acceleration", "pack_power", "pack_current", "state_of_charge",
        "ambient_pressure", "ambient_temperature", "humidity",
    }
)  # fmt: skip
# Common practice, no source: how near (of a setting) boost comes beside a sag, within how
# many widths of it, and how far it may have fallen at its bottom.
NEAR_SETTING, REACH, AT_BOTTOM = 0.05, 1.5, 0.15
SHOWN_WIDTH = 300.0  # [rpm] of the sag whose smallest depth is told
LATEST = 0.5  # [s] a mixture sensor is behind where no delay is stated; common practice, no source


@dataclass(frozen=True)
class Beside:
    """What a channel did at a sag: a change in SI (a rise is positive) on its level there, and
    where on the axis it lies, in rpm or km/h."""

    channel: str
    change: float
    level: float
    at: float


@dataclass(frozen=True)
class Setting:
    """A relief or limit setting that the boost was near at a sag [Pa gauge]."""

    name: str
    value: float
    boost: float
    climbs_on: bool


@dataclass(frozen=True)
class FoundSag:
    """A sag of one group: place and width in rpm or km/h, depth in W and as a share; the pulls it
    shows in `of` those that have been all through it."""

    group: str
    at: float
    width: float
    depth: float
    depth_w: float
    half_width: float
    pulls: tuple[str, ...]
    of: int
    shared: bool
    beside: tuple[Beside, ...]
    settings: tuple[Setting, ...]


@dataclass(frozen=True)
class SagReport:
    """All sags of a session, what was seen of ends of range and limiters, and the searches that
    found them, each with what stands for one rpm on their axis."""

    sags: tuple[FoundSag, ...]
    findings: tuple[Finding, ...]
    axis: AxisName
    searches: tuple[tuple[Sags, float], ...]

    @property
    def sought(self) -> bool:
        """Whether any pulls were long enough to seek sags in."""
        return bool(self.searches)

    @cached_property
    def smallest(self) -> Smallest | None:
        """The depth (a share) from which a sag of some 300 rpm would be reported 9 times in 10,
        and where (rpm or km/h), in every group; None where sags were found or not sought, or where
        some curve hides even a deep one. Worked out when it is asked for."""
        if self.sags:
            return None
        least = [search.smallest(SHOWN_WIDTH * unit) for search, unit in self.searches]
        known = [one for one in least if one is not None]
        if not known or len(known) < len(least):
            return None
        scale = AXIS_SI[self.axis]
        low, high = max(one.low for one in known) / scale, min(one.high for one in known) / scale
        depth, whole = max(one.depth for one in known), all(one.whole for one in known)
        return Smallest(depth, low, high, whole) if low < high else None


def sag_report(sheet: Sheet, configuration: Configuration) -> SagReport:
    """Seek sags in every group of a sheet; findings say where that could not be done."""
    sags: list[FoundSag] = []
    findings: list[Finding] = []
    searches: list[tuple[Sags, float]] = []
    for group in sheet.groups:
        try:
            found, search, unit = _group(sheet, group, configuration)
        except ValueError as error:
            text = f"sags were not sought: {str(error).rstrip('.')}"
            findings.append(Finding("sags-not-sought", "note", text, where=group.key or None))
            continue
        sags += found
        searches.append((search, unit))
    findings += list(_plateaus(sheet))
    return SagReport(tuple(sags), tuple(findings), sheet.axis, tuple(searches))


def _group(
    sheet: Sheet, group: PullGroup, configuration: Configuration
) -> tuple[list[FoundSag], Sags, float]:
    known = np.isfinite(group.power).any(axis=0)
    grid = sheet.grid[known]
    axis = grid * AXIS_SI[sheet.axis]
    unit = RPM if sheet.axis == "engine_speed" else sag_physics.road_unit(axis)
    scale = AXIS_SI[sheet.axis]
    smoothing = max(curve.width(sheet.axis) for curve in group.curves) * scale
    noise = _sample_noise(group.curves[0], sheet, unit) if group.pulls == 1 else None
    found = sag_physics.find_sags(
        axis, group.power[:, known], unit=unit, smoothing=smoothing, noise=noise
    )
    beside = {} if not found.found else _channels(group, sheet, grid)
    late = {} if not found.found else _late(group, sheet, scale)
    sags = []
    for sag in found.found:
        moved = coincides(axis, beside, sag, unit=unit, smoothing=smoothing, late=late)
        depth = sag.depth * float(np.interp(sag.at, axis, found.envelope))
        sags.append(
            FoundSag(
                group.key,
                sag.at / scale,
                sag.width / scale,
                sag.depth,
                depth,
                sag.half_width,
                tuple(group.curves[i].name for i in sag.pulls),
                sag.covering,
                sag.shared,
                tuple(Beside(m.channel, m.change, m.level, m.at / scale) for m in moved),
                tuple(_settings(sheet, group, configuration, axis, group.mean[known], sag)),
            )
        )
    return sags, found, unit


def _sample_noise(curve: Curve, sheet: Sheet, unit: float) -> float:
    """Noise of a single pull [W] as `sag_physics.find_sags` wants it."""
    x = curve.axis[sheet.axis] * AXIS_SI[sheet.axis]
    width = curve.width(sheet.axis) * AXIS_SI[sheet.axis]
    sigma, correlation = regression.noise(x, curve.power, width)
    return sag_physics.sample_noise(sigma, correlation, float(np.median(np.abs(np.diff(x)))) / unit)


def _channels(group: PullGroup, sheet: Sheet, grid: Floats) -> dict[str, Floats]:
    """Every other channel that all pulls of the group log, on the grid (n, g); of the mixture its
    lambda, whatever the instrument shows."""
    names = set.intersection(*(set(curve.data.channels) for curve in group.curves)) - NOT_BESIDE
    out = {}
    for name in sorted(names - {"air_fuel_ratio", "lambda"}):
        rows = np.vstack([curve.channel_on(name, sheet.axis, grid) for curve in group.curves])
        if np.isfinite(rows).any():
            out[name] = rows
    mixture = [lambda_on(curve, sheet, grid) for curve in group.curves]
    if all(row is not None for row in mixture):
        out["lambda"] = np.vstack([row for row in mixture if row is not None])
    return out


def lambda_on(curve: Curve, sheet: Sheet, grid: Floats) -> Floats | None:
    """Lambda inside the pull, on the grid; None where it is not logged."""
    values = lambda_channel(sheet, curve)
    if values is None or not np.isfinite(values[curve.data.index]).any():
        return None
    x, width = curve.axis[sheet.axis], curve.width(sheet.axis)
    return regression.local_quadratic(x, values[curve.data.index], grid, width).values


def _late(group: PullGroup, sheet: Sheet, scale: float) -> dict[str, float]:
    """How far behind a sag the mixture may show it, on the axis in SI: its delay times the rate of
    the sweep; nothing where the delay is stated, for then it is taken out."""
    stated = any(
        column.delay is not None for column in _columns(sheet.session) if column.channel in MIXTURE
    )
    rates = [
        float(np.ptp(curve.axis[sheet.axis]) / np.ptp(time))
        for curve in group.curves
        if (time := curve.data.channels.get("time")) is not None and np.ptp(time) > 0
    ]
    if stated or not rates:
        return {}
    return {"lambda": LATEST * max(rates) * scale}


def _columns(session: Session) -> Iterator[Column]:
    """Every column that a session reads, of its pulls and of other loggers."""
    yield from (*session.column, *session.log_column)
    for pull in session.pull:
        yield from pull.column
    for log in session.log:
        yield from log.column


def _settings(
    sheet: Sheet,
    group: PullGroup,
    configuration: Configuration,
    axis: Floats,
    power: Floats,
    sag: sag_physics.Sag,
) -> Iterator[Setting]:
    """Relief, limit and target settings that the boost comes near at the sag."""
    boost = mean_boost(sheet, group, axis / AXIS_SI[sheet.axis])
    if boost is None:
        return
    level = float(np.nanmax(boost[np.abs(axis - sag.at) <= REACH * sag.width]))
    for name, value in boost_settings(configuration).items():
        if value > 0 and abs(level / value - 1) <= NEAR_SETTING:
            sign = plateaus.relief_sign(
                axis, power, boost, value, sag.at, sag.width, near=AT_BOTTOM
            )
            yield Setting(name, value, level, sign is not None)


def boost_settings(configuration: Configuration) -> dict[str, float]:
    """What is declared to hold, relieve or cut the boost [Pa gauge], by name."""
    control = configuration.induction.boost if configuration.induction else None
    calibration = configuration.calibration
    settings = {
        "relief": control.relief_gauge if control else None,
        "boost limit of the calibration": calibration.boost_limit_gauge if calibration else None,
    }
    return {name: value.si for name, value in settings.items() if value is not None}


def mean_boost(sheet: Sheet, group: PullGroup, grid: Floats) -> Floats | None:
    """Mean gauge boost [Pa] of a group on a grid; None where it is not logged by all."""
    rows = [gauge_boost(sheet, curve) for curve in group.curves]
    if any(row is None for row in rows):
        return None
    laid = [
        regression.local_quadratic(c.axis[sheet.axis], row, grid, c.width(sheet.axis)).values
        for c, row in zip(group.curves, rows, strict=True)
        if row is not None
    ]
    count = np.isfinite(laid).sum(axis=0)
    mean: Floats = np.nansum(laid, axis=0) / np.where(count > 0, count, np.nan)
    return mean if count.any() else None


def gauge_boost(sheet: Sheet, curve: Curve) -> Floats | None:
    """Boost above ambient [Pa], from its own channel or absolute manifold pressure."""
    channels = curve.data.channels
    if "boost" in channels:
        return channels["boost"]
    if "manifold_pressure" in channels:
        return channels["manifold_pressure"] - ambient(sheet, curve)
    return None


def _plateaus(sheet: Sheet) -> Iterator[Finding]:
    """Pressure channels cut off at their range, and a speed limiter at the end of a pull."""
    for curve in sheet.curves:
        for name in ("manifold_pressure", "boost"):
            yield from _clipped(curve, name)
        yield from _limiter(curve, sheet.turning)


def clipped(curve: Curve, name: str) -> plateaus.Plateau | None:
    """Where a pressure channel is cut off at its range; None where it is not, or not logged."""
    values = curve.data.channels.get(name)
    speed = curve.axis.get("engine_speed")
    if values is None or speed is None or np.ptp(values) == 0:
        return None
    ranges, column = dict(plateaus.CHANNEL_RANGES), curve.data.columns.get(name)
    if column is not None and column.range_high:
        with suppress(BuildlogError):  # what is no pressure is named by `_clipped`
            ranges["the range stated for it"] = parse(column.range_high, ("pressure",)).si
    return plateaus.clipped(speed * RPM, values, ranges=ranges)


def _clipped(curve: Curve, name: str) -> Iterator[Finding]:
    words, column = name.replace("_", " "), curve.data.columns.get(name)
    if name in curve.data.channels and column is not None and column.range_high:
        try:
            parse(column.range_high, ("pressure",))
        except BuildlogError:
            text = f'range_high "{column.range_high}" of {words} is no pressure'
            yield Finding("range-unreadable", "caution", text, (f"column.{name}",))
    found = clipped(curve, name)
    if found is not None:
        end = f", the end of {found.range_name}" if found.range_name else ""
        yield Finding(
            "clipped",
            "caution",
            f"pull {curve.name}: {words} is clipped at {found.value / 1e3:.0f} kPa{end}, "
            f"{found.start / RPM:,.0f} to {found.end / RPM:,.0f} rpm: what it was there is unknown",
            (f"column.{name}",),
        )


def _limiter(curve: Curve, turning: str) -> Iterator[Finding]:
    recorded = curve.data.recorded
    if not {"time", "engine_speed"} <= set(recorded) or curve.data.index.size == 0:
        return
    first = int(curve.data.index.min())
    time, speed = recorded["time"][first:], recorded["engine_speed"][first:]
    if np.any(np.diff(time) < 0) or not np.isfinite(speed).all():
        return
    found = plateaus.speed_limiter(time, speed)
    if found is not None and math.isfinite(found.value):
        yield Finding(
            "speed-limiter",
            "note",
            f"pull {curve.name}: {turning} stands at {found.value / RPM:,.0f} rpm for "
            f"{found.end - found.start:.1f} s at its end, as at a speed limiter",
        )
