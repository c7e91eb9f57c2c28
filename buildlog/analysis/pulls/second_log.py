"""A second file on another time base, laid over a pull; the shift found is stated."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildlog.errors import InvalidInput
from buildlog.physics.numerics import alignment
from buildlog.physics.numerics.alignment import Alignment
from buildlog.physics.traces import sweep
from buildlog.rawfiles.spec import ColumnSpec
from buildlog.rawfiles.table import read_table
from buildlog.records.session import Column, Pull, Session

Floats = NDArray[np.float64]

# What both records may hold, in the order of preference: what moves most over a pull first.
SHARED = (
    "engine_speed", "road_speed", "roller_speed", "boost", "manifold_pressure", "throttle",
    "power", "torque", "lambda", "air_fuel_ratio",
)  # fmt: skip
U_LOG = 0.002  # relative, of an engine speed in a log; common practice, no source
U_STATED_SHIFT = 0.02  # [s] a shift that was put in by hand; common practice, no source
U_ROAD_SPEEDS = 0.01  # relative, how far two road speeds disagree; common practice, no source
ROAD_WIDTH = 4 / 3.6  # [m/s] of the smoothing when aligned by road speed


@dataclass(frozen=True)
class Laid:
    """The log's channels at the pull's rows, and how they got there.

    `u` the relative standard uncertainty of a speed so
    recovered; `words` states what was found; `refused` says why time could not be used.
    """

    channels: Mapping[str, Floats]
    u: float
    words: str
    shift: float | None = None
    refused: str | None = None


def spec_of(column: Column) -> ColumnSpec:
    """A column of session.toml as the reader of raw files wants it."""
    shown = column.display_stoichiometric
    return ColumnSpec(column.channel, column.name, column.unit or "", display_stoichiometric=shown)


def laid_over(
    session: Session, pull: Pull, files: Mapping[str, bytes], channels: Mapping[str, Floats]
) -> Laid | None:
    """The second log of a pull at the rows of the pull; None where it names none.

    `channels` (n,) are the pull's own, all rows. InvalidInput says what is missing, or why
    the two records cannot be aligned.
    """
    if pull.log is None:
        return None
    if pull.log not in files:
        text = f"the second log {pull.log} is missing"
        raise InvalidInput(text, hint="put it beside session.toml")
    if not session.log_column:
        raise InvalidInput(
            "what the columns of the second log mean is not said",
            hint='[[log_column]] channel = "engine_speed" name = "..." unit = "rpm"',
        )
    specs = [spec_of(column) for column in session.log_column]
    log = dict(read_table(files[pull.log], pull.log, specs).channels)
    refused = None
    if pull.log_by != "road_speed":
        found, shared = _shift(pull, channels, log)
        if found is not None and found.accepted:
            return _by_time(channels, log, found, shared)
        refused = found.reason if found else shared
    if pull.log_by == "time" or not _both(channels, log, "road_speed"):
        raise InvalidInput(
            f"the second log could not be laid over the pull: {refused}",
            hint='state the shift with log_shift = "1.25 s", or take the log out',
        )
    return _by_road_speed(channels, log, refused)


def _both(one: Mapping[str, Floats], other: Mapping[str, Floats], name: str) -> bool:
    return name in one and name in other


def _shift(
    pull: Pull, channels: Mapping[str, Floats], log: Mapping[str, Floats]
) -> tuple[Alignment | None, str]:
    """The shift and the channel it was found by; None and the reason where there is none."""
    if not _both(channels, log, "time"):
        return None, "time is not in both files"
    if pull.log_shift is not None:
        stated = Alignment(pull.log_shift.si, 1.0, 0.0, 1.0, U_STATED_SHIFT, None)
        return stated, "stated"
    shared = [name for name in SHARED if _both(channels, log, name)]
    if not shared:
        return None, "no channel is in both files"
    best: Alignment | None = None
    for name in shared:
        try:
            found = alignment.align_by_time(
                channels["time"], channels[name], log["time"], log[name]
            )
        except ValueError as error:
            return None, str(error)
        if found.accepted:
            return found, name
        best = best or found
    return best, shared[0]


def _by_time(
    channels: Mapping[str, Floats], log: Mapping[str, Floats], found: Alignment, shared: str
) -> Laid:
    time = channels["time"]
    laid = {
        name: alignment.onto_time(time, log["time"], values, found.shift)
        for name, values in log.items()
        if name != "time" and name not in channels
    }
    u = U_LOG
    speed = laid.get("engine_speed")
    if speed is not None and np.isfinite(speed).sum() > 2:
        rate = np.nanmedian(np.abs(np.gradient(speed, time)))
        u = float(np.hypot(U_LOG, rate * found.u_shift / np.nanmedian(speed)))
    by = "as stated" if shared == "stated" else (
        f"found by {shared.replace('_', ' ')}, match {found.match:.3f}"
    )  # fmt: skip
    return Laid(laid, u, f"shifted by {found.shift:+.2f} s ({by})", found.shift)


def _by_road_speed(
    channels: Mapping[str, Floats], log: Mapping[str, Floats], refused: str | None
) -> Laid:
    rows = sweep.trim_sweep(log["road_speed"], log.get("power"), time=log.get("time")).index
    laid = {
        name: alignment.onto_speed(
            channels["road_speed"], log["road_speed"][rows], values[rows], ROAD_WIDTH
        )
        for name, values in log.items()
        if name not in channels and name != "time"
    }
    u = float(np.hypot(U_LOG, U_ROAD_SPEEDS))
    return Laid(laid, u, "laid over by road speed", None, refused)
