"""What the pulls of a session log of full load beside power: boost, mixture, gas at the turbine,
what a traction battery gives.

Margins put these against limits, so each is the worst that was held by the smoothed curves, never a
single sample, and each says what it may be off.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, sqrt

import numpy as np

from buildlog.analysis.pulls.air_fuel import FULL_LOAD, NO_MIXTURE, lambda_channel, mixture
from buildlog.analysis.pulls.curves import Curve
from buildlog.analysis.pulls.pack import pack_given
from buildlog.analysis.pulls.pull_data import RPM, Floats
from buildlog.analysis.pulls.sag_report import clipped, gauge_boost, lambda_on
from buildlog.analysis.pulls.sheet import PullGroup, Sheet
from buildlog.findings import how_many
from buildlog.physics.gases.airfuel import BOOST_SHARE, Sustained, sustained
from buildlog.physics.numerics.constants import ATM
from buildlog.physics.numerics.regression import local_quadratic
from buildlog.physics.parts.traction_pack import Draw, telling
from buildlog.records.car.configuration import Configuration

# One standard deviation of what the instrument itself may be off: common practice, no source.
LAMBDA_SENSOR = 0.01
BOOST_SENSOR = 1.5e3  # Pa
GAS_SENSOR = 7.0  # K
PACK_SENSORS = 0.01  # of the power
HALF = 0.5  # of the highest boost, from which a limit for full boost is asked: common practice
_TURBINE_INLET = "turbine_inlet_temperature"


@dataclass(frozen=True)
class LoggedFigure:
    """A value in SI, what it may be off (one standard deviation), and of what it is the figure."""

    value: float
    sd: float
    words: str


@dataclass(frozen=True)
class LoggedPack:
    """What a traction battery gave, by its charge; the share of it that the instruments may be off
    (one standard deviation), and of what it is the figure."""

    draws: tuple[Draw, ...]
    sd: float
    words: str


@dataclass(frozen=True)
class LoggedLoad:
    """What was logged at full load; None where it was not, or not inside the pull.

    boost [Pa gauge]: the highest. mixture [lambda]: at the power peak. leanest [lambda]: the
    leanest that was held in a pull, under at least half of the boost where that is logged.
    turbine_inlet [K]: the hottest gas before the turbine. pack: what a traction battery gave.
    """

    boost: LoggedFigure | None = None
    mixture: LoggedFigure | None = None
    leanest: LoggedFigure | None = None
    turbine_inlet: LoggedFigure | None = None
    pack: LoggedPack | None = None


def logged_load(sheet: Sheet, group: PullGroup, configuration: Configuration) -> LoggedLoad:
    """All of it, for one group of pulls."""
    here = [one for one in mixture(sheet, configuration).readings if one.group == group.key]
    judged = [one for one in here if one.region in FULL_LOAD]
    # A scale that gives a mixture at which no engine runs gives no mixture at all.
    known = bool(judged) and all(one.state != NO_MIXTURE for one in judged)
    return LoggedLoad(
        _boost(sheet, group),
        _at_peak(sheet, group) if known else None,
        _leanest(sheet, group) if known else None,
        _turbine_inlet(sheet, group),
        _pack(sheet, group),
    )


def _boost(sheet: Sheet, group: PullGroup) -> LoggedFigure | None:
    """The highest of the smoothed curves; None where a channel is clipped: it was more there."""
    rows = {c.name: row for c in group.curves if (row := gauge_boost(sheet, c)) is not None}
    logged = [c for c in group.curves if c.name in rows]
    if any(clipped(c, name) for c in logged for name in ("boost", "manifold_pressure")):
        return None
    laid = [
        local_quadratic(c.axis[sheet.axis], rows[c.name], sheet.grid, c.width(sheet.axis)).values
        for c in logged
    ]
    return _highest(laid, group, BOOST_SENSOR, "the highest boost")


def _turbine_inlet(sheet: Sheet, group: PullGroup) -> LoggedFigure | None:
    logged = [c for c in group.curves if _TURBINE_INLET in c.data.channels]
    laid = [c.channel_on(_TURBINE_INLET, sheet.axis, sheet.grid) for c in logged]
    return _highest(laid, group, GAS_SENSOR, "the hottest gas before the turbine")


def _pack(sheet: Sheet, group: PullGroup) -> LoggedPack | None:
    """As the sheet reads each pull; a rating is passed by the pull that passes it."""
    given = [one for curve in group.curves if (one := pack_given(curve, sheet)) is not None]
    if not given:
        return None
    draws = telling(draw for one in given for draw in one.draws)
    how = " (voltage times current)" if any(one.by_product for one in given) else ""
    many = f"{len(given)} of {how_many(group.pulls, 'pull')}"
    words = f"the highest pack power logged in {many}{how}"
    return LoggedPack(draws, PACK_SENSORS, words)


def _highest(laid: list[Floats], group: PullGroup, sensor: float, what: str) -> LoggedFigure | None:
    """The highest that any pull held: a limit is passed by the one that passes it."""
    tops = [float(np.nanmax(row)) for row in laid if np.isfinite(row).any()]
    if not tops:
        return None
    return LoggedFigure(
        max(tops), sensor, f"{what} logged in {len(tops)} of {how_many(group.pulls, 'pull')}"
    )


def _at_peak(sheet: Sheet, group: PullGroup) -> LoggedFigure | None:
    """The mean of the pulls that log it there; those that log it nowhere near do not count."""
    place = np.array([group.peak_power.at])
    rows = [lambda_on(curve, sheet, place) for curve in group.curves]
    found = [float(row[0]) for row in rows if row is not None and np.isfinite(row[0])]
    if not found:
        return None
    scatter = float(np.std(found, ddof=1)) / sqrt(len(found)) if len(found) > 1 else LAMBDA_SENSOR
    words = f"lambda logged at peak power in {len(found)} of {how_many(group.pulls, 'pull')}"
    return LoggedFigure(float(np.mean(found)), hypot(scatter, LAMBDA_SENSOR), words)


def _leanest(sheet: Sheet, group: PullGroup) -> LoggedFigure | None:
    """The leanest that was held, as `sustained` says; where boost is logged, under half of its
    highest at least, as the limit is that of full boost: what was held below, the sheet says."""
    held = [(one, curve) for curve in group.curves if (one := _held(sheet, curve)) is not None]
    if not held:
        return None
    worst, curve = max(held, key=lambda one: one[0].value)
    speed = _on_rows(curve, curve.axis[sheet.axis])[worst.first : worst.last + 1]
    unit = "rpm" if sheet.axis == "engine_speed" else "km/h"
    near = f"{round(float(np.nanmean(speed)), -1):,.0f} {unit}"
    part = ", with boost at half of its highest or more" if _boosted(sheet, curve) else ""
    held_in = f"{len(held)} of {how_many(group.pulls, 'pull')}"
    words = f"the leanest lambda held in {held_in}, near {near}{part}"
    return LoggedFigure(worst.value, LAMBDA_SENSOR, words)


def _held(sheet: Sheet, curve: Curve) -> Sustained | None:
    values, boost = lambda_channel(sheet, curve), gauge_boost(sheet, curve)
    if values is None:
        return None
    full = np.ones(curve.data.index.size, bool)
    if boost is not None and _boosted(sheet, curve):
        full = boost >= HALF * np.nanmax(boost)
    own = np.where(_on_rows(curve, full.astype(float)) == 1, values, np.nan)
    time = curve.data.recorded.get("time")
    rising = time if time is not None and not np.any(np.diff(time) < 0) else None
    turning = curve.axis.get("engine_speed")
    axis = None if turning is None else _on_rows(curve, turning * RPM)
    if rising is None and axis is None:
        return None
    return sustained(own, time=rising, axis=axis)


def _boosted(sheet: Sheet, curve: Curve) -> bool:
    boost = gauge_boost(sheet, curve)
    return boost is not None and bool(np.nanmax(boost) > (BOOST_SHARE - 1) * ATM)


def _on_rows(curve: Curve, values: Floats) -> Floats:
    """Values of the sweep at every recorded row; NaN at the others."""
    out = np.full(next(iter(curve.data.recorded.values())).size, np.nan)
    out[curve.data.index] = values
    return out
