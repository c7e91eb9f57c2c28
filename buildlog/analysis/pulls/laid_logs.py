"""Files of other loggers, each on its own time base, laid over a pull; what was found is stated."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from buildlog.analysis.pulls.recorded_layout import known_layout
from buildlog.errors import InvalidInput
from buildlog.findings import how_many
from buildlog.physics.numerics import alignment
from buildlog.physics.numerics.alignment import Alignment
from buildlog.physics.numerics.middle import median
from buildlog.physics.numerics.regression import local_quadratic
from buildlog.physics.traces import sweep
from buildlog.rawfiles.layout import confirmed
from buildlog.rawfiles.spec import ColumnSpec
from buildlog.rawfiles.table import read_table
from buildlog.records.session import Column, LoggerFile, Pull, Session

Floats = NDArray[np.float64]

# What both files may hold, in the order in which it is asked, with how far one may read from the
# other (one standard deviation, relative): common practice, no source.
SHARED = {
    "engine_speed": 0.002, "road_speed": 0.02, "roller_speed": 0.02, "throttle": 0.03,
    "boost": 0.03, "manifold_pressure": 0.02, "power": 0.05, "torque": 0.05,
}  # fmt: skip
MIXTURE = frozenset({"lambda", "air_fuel_ratio"})  # two scales of one quantity
STATED, CLOCKS = "as stated", "clocks"
U_LOG = 0.002  # relative, of an engine speed in a log; common practice, no source
U_GEARING = 0.02  # relative, of a speed by gear and tyre, slip included; common practice
U_STATED_SHIFT = 0.02  # [s] a shift that was put in by hand; common practice, no source
U_ROAD_SPEEDS = 0.01  # relative, how far two road speeds disagree; common practice, no source
ROAD_WIDTH = 4 / 3.6  # [m/s] of the smoothing when laid over by road speed
ENGINE_WIDTH = 15.0  # [rad/s] of it by engine speed
ROWS_IN_WIDTH = 7  # of the smoothing, where a log's rows lie far apart
WINDOW = 8.0  # rows over which it is seen whether the speed rises
HELD = 0.3  # of the usual step of a rise: less is speed that is held
LEAST_ROWS = 5
CLOCK = 3600.0  # [s] a time that begins later than this is the time of day, or a date
DAY = 86400.0
U_CLOCKS = 1.0  # [s] by which two clocks differ that somebody set; common practice, no source
GAP = 4.0  # steps of a log beyond which nothing is read between two of its rows


@dataclass(frozen=True)
class LaidLog:
    """A log's channels at the pull's rows (n,), NaN where it has none, and how they got there.

    `by` is what it was aligned by, in words; `shift` [s] what its time was moved by, with its
    standard uncertainty `u_shift`, None where it was laid over by a speed; `match` 0..1; `rate`
    rows a second; `u_speed` the relative standard uncertainty of an engine speed taken from it;
    `noise` of a single row by channel; `tried` says why what stands before `by` could not be used.
    """

    file: str
    source: str
    channels: Mapping[str, Floats]
    columns: Mapping[str, Column]
    by: str
    shift: float | None = None
    u_shift: float | None = None
    match: float | None = None
    rate: float | None = None
    u_speed: float = U_LOG
    noise: Mapping[str, float] = field(default_factory=dict)
    tried: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """How it was laid over the pull, in a few words."""
        by = self.by if self.by == STATED else f"by {self.by}"
        return f"laid over {by}" if self.shift is None else f"shifted by {self.shifted} s, {by}"

    @property
    def shifted(self) -> str:
        """The shift with its 95 % half-width [s]; "-" where it has none."""
        if self.shift is None or self.u_shift is None:
            return "-"
        return f"{self.shift:+.2f} ± {1.96 * self.u_shift:.2f}"


def spec_of(column: Column) -> ColumnSpec:
    """A column of session.toml as the reader of raw files wants it."""
    shown = column.display_stoichiometric
    return ColumnSpec(column.channel, column.name, column.unit or "", display_stoichiometric=shown)


def same_quantity(channel: str, other: str) -> bool:
    """Whether two channels say the same of the car, if on another scale."""
    return channel == other or {channel, other} <= MIXTURE


def loggers_of(session: Session, pull: Pull) -> Iterator[LoggerFile]:
    """The files of other loggers that belong to a pull."""
    yield from (one for one in session.log if one.pull == pull.name)


def single_log(session: Session, pull: Pull) -> LoggerFile | None:
    """The one log that a pull names itself, as the first files of this kind do."""
    if pull.log is None:
        return None
    if not session.log_column:
        raise InvalidInput(
            "what the columns of the second log mean is not said",
            hint='[[log_column]] channel = "engine_speed" name = "..." unit = "rpm"',
        )
    return LoggerFile(
        file=pull.log, pull=pull.name, shift=pull.log_shift, column=session.log_column
    )


def laid_over(
    log: LoggerFile,
    files: Mapping[str, bytes],
    channels: Mapping[str, Floats],
    by: str | None = None,
    reckoned: Mapping[str, Floats] | None = None,
) -> LaidLog:
    """A log at the rows of its pull.

    `channels` (n,) are the pull's own, all rows; `by` "time" or "road_speed" where the session
    says what alone may be used; `reckoned` (n,) is engine speed worked out from road speed by gear
    and tyre, or the other way. InvalidInput says what is missing, or why the two cannot be aligned.
    """
    own = _read(log, files)
    tried: list[str] = []
    for way in _WAYS[by]:
        laid = way(log, channels, own, tried)
        if laid is None and way is _by_courses and reckoned:
            laid = _by_reckoning(log, channels, own, reckoned, tried)
        if laid is not None:
            return replace(laid, tried=tuple(tried))
    raise InvalidInput(
        f"{log.file} could not be laid over {log.pull}: {'; '.join(tried)}",
        hint='state what is to be added to the log\'s time: --shift "3.7 s", or '
        'shift = "3.7 s" in its [[log]]',
    )


def _read(log: LoggerFile, files: Mapping[str, bytes]) -> dict[str, Floats]:
    """The log's channels in SI, all rows that belong to the pull; each sensor's delay taken out."""
    if log.file not in files:
        raise InvalidInput(f"the log {log.file} is missing", hint="put it beside session.toml")
    known = known_layout(log.layout) if log.layout else None
    layout = confirmed(files[log.file], log.file, known) if known else None
    specs = [spec_of(column) for column in log.column]
    own = dict(read_table(files[log.file], log.file, specs, log.rows, layout).channels)
    time = own.get("time")
    for column in log.column:
        if column.delay is not None and time is not None and column.channel != "time":
            own[column.channel] = _read_at(time + column.delay.si, time, own[column.channel])
    return own


def _both(one: Mapping[str, Floats], other: Mapping[str, Floats], name: str) -> bool:
    return name in one and name in other


Ways = Mapping[str, Floats]


def _stated(log: LoggerFile, pull: Ways, own: Ways, tried: list[str]) -> LaidLog | None:
    """By the shift that somebody stated."""
    if log.shift is None:
        return None
    if not _both(pull, own, "time"):
        raise InvalidInput(
            f"a shift is stated for {log.file}, but time is not in both files",
            hint="name the column: --map time=COLUMN:s",
        )
    found = Alignment(log.shift.si, 1.0, 0.0, 1.0, U_STATED_SHIFT, None)
    return _shifted(log, pull, own, found, STATED)


def _by_courses(log: LoggerFile, pull: Ways, own: Ways, tried: list[str]) -> LaidLog | None:
    """By the course of the first channel in both that finds one place and no other."""
    if not _both(pull, own, "time"):
        tried.append("time is not in both files")
        return None
    shared = [name for name in SHARED if _both(pull, own, name)]
    if not shared:
        tried.append("no channel is in both files")
    for name in shared:
        words = name.replace("_", " ")
        found = _found(pull["time"], pull[name], own, name, SHARED[name], words, tried)
        if found is not None:
            return _shifted(log, pull, own, found, words)
    return None


def _found(
    time: Floats, values: Floats, own: Ways, name: str, u: float, words: str, tried: list[str]
) -> Alignment | None:
    """The shift by one channel; None, and why, where it does not find one place."""
    try:
        mine, its = (time, values), (own["time"], own[name])
        found = alignment.align_by_time(*mine, *its)
        if found.accepted:
            return alignment.refined(*mine, *its, found, u)
        tried.append(f"by {words}: {(found.reason or '').rstrip('.')}")
    except ValueError as error:
        tried.append(f"by {words}: {str(error).rstrip('.')}")
    return None


def _by_reckoning(
    log: LoggerFile, pull: Ways, own: Ways, reckoned: Ways, tried: list[str]
) -> LaidLog | None:
    """By a speed of the log beside the pull's other one, through gear and tyre."""
    if not _both(pull, own, "time"):
        return None
    for name, values in reckoned.items():
        words = f"{name.replace('_', ' ')} by gear and tire"
        if name in own:
            found = _found(pull["time"], values, own, name, U_GEARING, words, tried)
            if found is not None:
                return _shifted(log, pull, own, found, words)
    return None


def _by_speeds(log: LoggerFile, pull: Ways, own: Ways, tried: list[str]) -> LaidLog | None:
    """Row by row at the same speed, where no time can be used: of the rise alone."""
    for name, width in (("engine_speed", ENGINE_WIDTH), ("road_speed", ROAD_WIDTH)):
        if not _both(pull, own, name):
            continue
        try:
            rows = _rise(own[name], sweep.trim_sweep(own[name], time=own.get("time")).index)
        except ValueError as error:
            tried.append(f"at the same {name.replace('_', ' ')}: {str(error).rstrip('.')}")
            continue
        wide = max(width, ROWS_IN_WIDTH * median(np.abs(np.diff(own[name][rows]))))
        laid = {
            channel: alignment.onto_speed(pull[name], own[name][rows], values[rows], wide)
            for channel, values in own.items()
            if channel != "time"
        }
        u = float(np.hypot(U_LOG, U_ROAD_SPEEDS))
        return _laid(log, own, laid, f"{name.replace('_', ' ')}, row by row", u_speed=u)
    return None


def _rise(speed: Floats, rows: NDArray[np.intp]) -> NDArray[np.intp]:
    """Of a log's sweep the rows in which the speed really rises, half a window less at both ends:
    at one speed run-up and lift would be read into the pull. ValueError if few are left.
    """
    number = np.arange(rows.size, dtype=np.float64)
    slope = local_quadratic(number, speed[rows], number, WINDOW).slope
    usual = slope[np.isfinite(slope) & (slope > 0)]
    rising = np.flatnonzero(slope > HELD * median(usual)) if usual.size else rows[:0]
    cut = int(WINDOW) // 2
    kept = rows[rising[0] + cut : rising[-1] + 1 - cut] if rising.size else rows[:0]
    if kept.size < LEAST_ROWS:
        raise ValueError(f"The log's rise has only {how_many(kept.size, 'row')}.")
    return kept


def _by_clocks(log: LoggerFile, pull: Ways, own: Ways, tried: list[str]) -> LaidLog | None:
    """By the time of day, where both files tell it."""
    if not _both(pull, own, "time"):
        return None
    ours, its = pull["time"], own["time"]
    if min(float(np.nanmin(ours)), float(np.nanmin(its))) < CLOCK:
        tried.append("the two files do not both tell the time of day")
        return None
    days = round((float(np.nanmean(ours)) - float(np.nanmean(its))) / DAY) * DAY
    apart = float(np.nanmin(its)) + days > float(np.nanmax(ours))
    if apart or float(np.nanmax(its)) + days < float(np.nanmin(ours)):
        tried.append("by their clocks the two do not overlap")
        return None
    found = Alignment(days, 1.0, 0.0, 1.0, U_CLOCKS, None)
    return _shifted(log, pull, own, found, CLOCKS)


_WAYS: dict[str | None, tuple[Callable[..., LaidLog | None], ...]] = {
    None: (_stated, _by_courses, _by_speeds, _by_clocks),
    "time": (_stated, _by_courses),
    "road_speed": (_by_speeds,),
}


def _shifted(log: LoggerFile, pull: Ways, own: Ways, found: Alignment, by: str) -> LaidLog:
    """The log's channels at the pull's times, once the shift is known."""
    time = pull["time"]
    laid = {
        name: _read_at(time - found.shift, own["time"], values)
        for name, values in own.items()
        if name != "time"
    }
    u, speed = U_LOG, laid.get("engine_speed")
    if speed is not None and np.isfinite(speed).sum() > 2:
        rate = np.nanmedian(np.abs(np.gradient(speed, time)))
        u = float(np.hypot(U_LOG, rate * found.u_shift / np.nanmedian(speed)))
    matched = found.match if by not in (STATED, CLOCKS) else None
    made = _laid(log, own, laid, by, u_speed=u)
    return replace(made, shift=found.shift, u_shift=found.u_shift, match=matched)


def _laid(log: LoggerFile, own: Ways, laid: Ways, by: str, u_speed: float) -> LaidLog:
    time = own.get("time")
    step = median(np.diff(np.unique(time))) if time is not None and time.size > 1 else 0.0
    columns = {one.channel: one.model_copy(update={"delay": None}) for one in log.column}
    rate = 1 / step if step > 0 else None
    noise = {name: row_noise(values) for name, values in own.items()}
    return LaidLog(log.file, log.called, laid, columns, by, rate=rate, u_speed=u_speed, noise=noise)


def row_noise(values: Floats) -> float:
    """Standard deviation of what single rows carry beyond the straight line between their
    neighbours; 0 for fewer than three rows.

    Formula: each row less the mean of its neighbours has sqrt(3/2) of it. The largest twentieth is
    left out, so that a throttle that opens is no noise; of normal noise that leaves 0.87 of it.
    """
    known = values[np.isfinite(values)]
    if known.size < 3:
        return 0.0
    left = np.sort(np.abs(known[1:-1] - (known[:-2] + known[2:]) / 2))
    kept = left[: max(int(0.95 * left.size), 1)]
    return float(np.sqrt(np.mean(kept**2) / 1.5)) / 0.87


def _read_at(places: Floats, time: Floats, values: Floats) -> Floats:
    """Values between the rows of a log [its own time]; NaN beyond it, and in what it left out."""
    good = np.isfinite(time) & np.isfinite(values)
    t, v = time[good], values[good]
    if t.size < 2 or np.any(np.diff(t) < 0):
        return np.full(places.shape, np.nan)
    read: Floats = np.interp(places, t, v, left=np.nan, right=np.nan)
    steps = np.diff(t)
    after = np.clip(np.searchsorted(t, places, side="left"), 1, t.size - 1)
    on_a_row = np.isin(places, t)
    wide = steps[after - 1] > GAP * median(steps[steps > 0]) if np.any(steps > 0) else steps > 0
    read[wide & ~on_a_row] = np.nan
    return read
