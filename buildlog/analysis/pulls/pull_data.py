"""One pull of a session: from the raw file to channels in SI on the full-load sweep."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from buildlog.analysis.car.gearing import gearing, locked
from buildlog.analysis.pulls.derived_power import Derived, road_power, trace_power
from buildlog.analysis.pulls.laid_logs import (
    LaidLog,
    laid_over,
    loggers_of,
    same_quantity,
    single_log,
    spec_of,
)
from buildlog.analysis.pulls.recorded_layout import known_layout
from buildlog.errors import InvalidInput, refused_at
from buildlog.findings import Finding
from buildlog.physics.traces import sweep
from buildlog.rawfiles.layout import Layout, confirmed
from buildlog.rawfiles.spec import ColumnSpec
from buildlog.rawfiles.table import read_table
from buildlog.records.car.configuration import Configuration
from buildlog.records.checked_paths import of_session
from buildlog.records.session import Column, Pull, Session

# Channels that power can be had from as they are, the speeds beside two of them left out.
POWER = ("power", "power_front", "power_rear", "torque", "tractive_force")
_LOG = of_session("log[]")
Floats = NDArray[np.float64]
AxisName = Literal["engine_speed", "road_speed"]
RPM = math.pi / 30  # rad/s in one revolution per minute
KMH = 1 / 3.6  # m/s in one kilometre per hour

# The axis of every curve: engine speed in rpm or road speed in km/h, the trade's own.
AXIS_UNIT: dict[AxisName, str] = {"engine_speed": "rpm", "road_speed": "km/h"}
AXIS_SI: dict[AxisName, float] = {"engine_speed": RPM, "road_speed": KMH}
AXIS_STEP: dict[AxisName, float] = {"engine_speed": 50.0, "road_speed": 1.0}


@dataclass(frozen=True)
class PullData:
    """The rows of one full-load sweep.

    `channels` are SI arrays (n,) of the rows kept, as the file has them; `power` is the
    power in the file [W] or worked out as `power_source` says. `at` says whether it is
    power at the wheels or already reckoned to the crank by the machine. `recorded` holds
    all rows and `index` which of them were kept. `u_power` is the relative standard
    uncertainty common to the whole curve (an estimate from a road log); `smoothing` the
    width, as a share of speed, of a power worked out from a speed, and `noise` what the noise of
    that speed makes of it, relative. `logs` are the files of other loggers laid over it: what the
    pull's own file has not is among `channels`, outside the sweep NaN; `columns` says what each
    channel was read from, and `log_findings` which log could not be laid over it, and why.
    """

    pull: Pull
    channels: Mapping[str, Floats]
    power: Floats
    power_source: str
    at: Literal["wheel", "crank"]
    cuts: tuple[str, ...]
    rows: int
    notes: tuple[str, ...] = field(default=())
    recorded: Mapping[str, Floats] = field(default_factory=dict)
    index: NDArray[np.intp] = field(default_factory=lambda: np.empty(0, dtype=np.intp))
    u_power: float = 0.0
    smoothing: float | None = None
    logs: tuple[LaidLog, ...] = ()
    noise: float = 0.0
    columns: Mapping[str, Column] = field(default_factory=dict)
    log_findings: tuple[Finding, ...] = ()

    @property
    def name(self) -> str:
        """The pull's name in its session."""
        return self.pull.name

    @property
    def group(self) -> str:
        """What groups the pull with others: its calibration and its quick change."""
        change = self.pull.change or {}
        words = [f"{path} = {value}" for path, value in change.items()]
        return ", ".join([*([self.pull.calibration] if self.pull.calibration else []), *words])

    def covered(self, log: LaidLog) -> float:
        """The share of the sweep's rows for which a log has anything."""
        known = [np.isfinite(values[self.index]) for values in log.channels.values()]
        return float(np.mean(np.any(known, axis=0))) if known and self.index.size else 0.0

    def from_log(self, channel: str) -> LaidLog | None:
        """The log that a channel was taken from; None where the pull's own file holds it."""
        column = self.columns.get(channel)
        held = (log for log in self.logs if column and log.columns.get(channel) is column)
        return next(held, None)


def columns_of(session: Session, pull: Pull) -> dict[str, Column]:
    """The columns of a pull's file by channel: the session's, and the pull's own over them."""
    return {column.channel: column for column in (*session.column, *pull.column)}


def specs_of(session: Session, pull: Pull) -> list[ColumnSpec]:
    """The same columns as the reader of raw files wants them."""
    return [spec_of(column) for column in columns_of(session, pull).values()]


def layout_of(session: Session, pull: Pull, source: bytes) -> Layout | None:
    """The layout recorded with a pull's file, if the file fits it; None where it must be found."""
    said = pull.layout or session.layout
    known = known_layout(said) if said else None
    return confirmed(source, pull.file, known) if known else None


def read_pull(
    session: Session,
    pull: Pull,
    files: Mapping[str, bytes],
    configuration: Configuration | None = None,
) -> PullData:
    """Read and trim one pull; `files` are the session's raw files by name.

    The configuration is needed for a road log only, which may take mass and road load from
    it. InvalidInput names the file and what is missing or cannot be read.
    """
    if pull.file not in files:
        raise InvalidInput(
            f"the raw file {pull.file} is missing",
            where=f"pull {pull.name}",
            hint="put it back beside session.toml, or set use = false with a reason",
        )
    layout = layout_of(session, pull, files[pull.file])
    table = read_table(files[pull.file], pull.file, specs_of(session, pull), pull.rows, layout)
    channels = dict(table.channels)
    columns = columns_of(session, pull)
    reckoned = _reckoned(session, pull, channels, configuration)
    logs, doubts = _logs(session, pull, files, channels, reckoned)
    more = _added(pull, channels, logs)
    channels |= {name: log.channels[name] for name, log in more.items()}
    with refused_at(f"pull {pull.name} ({pull.file})"):
        own = {name: values for name, values in channels.items() if name not in more}
        axis = sweep_axis(channels, own)
        swept = _in_file(channels, axis) or _derived(session, pull, channels, axis, configuration)
    named = columns.get("power", columns.get("torque"))
    index, power, cuts, derived = swept
    logs = tuple(_on_the_sweep(log, index) for log in logs)
    channels |= {name: _inside(channels[name], index) for name in more}
    return PullData(
        pull,
        {name: values[index] for name, values in channels.items()},
        power,
        derived.source,
        (named.at if named and named.at else "wheel"),
        cuts,
        table.rows,
        derived.notes,
        channels,
        index,
        derived.u,
        derived.smoothing,
        logs,
        derived.noise,
        columns | {name: log.columns[name] for name, log in more.items()},
        doubts,
    )


def _reckoned(
    session: Session, pull: Pull, channels: Mapping[str, Floats], car: Configuration | None
) -> dict[str, Floats]:
    """Engine speed from road speed, or the other way, where the drive was locked: to find the shift
    of a log that knows the other one; empty where both are there, or it cannot be known."""
    held = [name for name in ("engine_speed", "road_speed") if name in channels]
    if car is None or len(held) != 1 or not locked(session, car):
        return {}
    turns = gearing(car, pull.gear or session.gear).turns_per_metre
    if turns is None:
        return {}
    per_metre = 2 * math.pi * turns
    if held == ["road_speed"]:
        return {"engine_speed": channels["road_speed"] * per_metre}
    return {"road_speed": channels["engine_speed"] / per_metre}


def _logs(
    session: Session,
    pull: Pull,
    files: Mapping[str, bytes],
    channels: Mapping[str, Floats],
    reckoned: Mapping[str, Floats],
) -> tuple[tuple[LaidLog, ...], tuple[Finding, ...]]:
    """The files of other loggers at the pull's rows; one that cannot be laid over it is told, and
    the pull stands without it. InvalidInput for the single log of a pull's own."""
    laid: list[LaidLog] = []
    with refused_at(f"pull {pull.name} ({pull.log})"):
        single = single_log(session, pull)
        if single is not None:
            laid.append(laid_over(single, files, channels, pull.log_by))
    doubts: list[Finding] = []
    for log in loggers_of(session, pull):
        try:
            laid.append(laid_over(log, files, channels, reckoned=reckoned))
        except (InvalidInput, ValueError) as error:
            text, hint = getattr(error, "what", str(error)), getattr(error, "hint", None)
            where = f"pull {pull.name} ({log.file})"
            doubts.append(Finding("log-not-laid", "caution", text, (_LOG,), where, hint))
    return tuple(laid), tuple(doubts)


def _added(
    pull: Pull, channels: Mapping[str, Floats], logs: Sequence[LaidLog]
) -> dict[str, LaidLog]:
    """What the pull's own file has not, by channel, each with the first log that has it.

    What another logger reckons of power or torque is never the pull's.
    """
    found: dict[str, LaidLog] = {}
    for log in logs:
        for name in log.channels:
            if name in POWER and log.file != pull.log:
                continue
            if not any(same_quantity(name, known) for known in (*channels, *found)):
                found[name] = log
    return found


def _inside(values: Floats, index: NDArray[np.intp]) -> Floats:
    """Values on the sweep's rows alone: a log's run-up and lift are no part of the pull."""
    kept = np.full_like(values, np.nan)
    kept[index] = values[index]
    return kept


def _on_the_sweep(log: LaidLog, index: NDArray[np.intp]) -> LaidLog:
    kept = {name: _inside(values, index) for name, values in log.channels.items()}
    return replace(log, channels=kept)


Swept = tuple[NDArray[np.intp], Floats, tuple[str, ...], Derived]


# What a sweep is sought along, first to last, and what `power_in_file` makes power of.
AXES = ("engine_speed", "road_speed", "roller_speed", "hub_speed")
OF_POWER = ("power", "power_front", "power_rear", "torque", "tractive_force")


def sweep_axis(channels: Mapping[str, Floats], own: Mapping[str, Floats] | None = None) -> Floats:
    """The channel along which the sweep is sought: the pull's own before that of a log, which may
    cover a part of it only. InvalidInput where there is none."""
    for held in (channels if own is None else own, channels):
        for name in AXES:
            if name in held:
                return held[name]
    raise InvalidInput(
        "neither engine speed nor road speed is among its columns",
        hint="name the column with --map engine_speed=COLUMN:rpm or road_speed=COLUMN:km/h",
    )


def _in_file(channels: Mapping[str, Floats], axis: Floats) -> Swept | None:
    """The sweep of a file that holds power, or what is power by definition."""
    power, source = power_in_file(channels)
    if power is None:
        return None
    found = sweep.trim_sweep(axis, power, time=channels.get("time"))
    return found.index, power[found.index], found.sentences(), Derived(power, source, ())


def _derived(
    session: Session,
    pull: Pull,
    channels: Mapping[str, Floats],
    axis: Floats,
    configuration: Configuration | None,
) -> Swept:
    """The sweep of a file that holds speed over time only."""
    found = sweep.trim_sweep(axis, time=channels.get("time"))
    rise = {name: values[found.index] for name, values in channels.items()}
    unit = columns_of(session, pull)["roller_speed"].unit or "" if "roller_speed" in rise else ""
    derived = trace_power(session, rise, unit)
    if derived is None:
        car = configuration or Configuration.model_validate({"format": 1, "car": {"name": "car"}})
        derived = road_power(session, rise, car, pull.gear or session.gear)
    if derived is None:
        raise InvalidInput(
            "neither power nor torque can be had from its columns",
            hint="name the column with --map power=COLUMN:kW; power from the roller's or the "
            'road\'s speed needs kind = "inertia" or "road" in [dyno]',
        )
    known = np.flatnonzero(np.isfinite(derived.power))
    ends = sweep.trim_sweep(axis[found.index][known], derived.power[known])
    index = found.index[known][ends.index]
    cuts = found.sentences()
    if index.size < found.index.size:
        gone = found.index.size - index.size
        cuts = (*cuts, f"{gone} rows at the ends left out (no full load, or no slope there).")
    return index, derived.power[known][ends.index], cuts, derived


def power_in_file(channels: Mapping[str, Floats]) -> tuple[Floats | None, str]:
    """Power [W] that the file holds, and where it comes from; None where it holds none."""
    if "power" in channels:
        return channels["power"], "power in the file"
    parts = [channels[name] for name in ("power_front", "power_rear") if name in channels]
    if parts:
        return np.sum(parts, axis=0), "power of the axles in the file, added"
    if "torque" in channels and "engine_speed" in channels:
        return channels["torque"] * channels["engine_speed"], "torque times engine speed"
    if "tractive_force" in channels and "road_speed" in channels:
        return channels["tractive_force"] * channels["road_speed"], "tractive force times speed"
    return None, ""
