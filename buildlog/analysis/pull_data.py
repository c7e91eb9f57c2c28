"""One pull of a session: from the raw file to channels in SI on the full-load sweep."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from buildlog.errors import InvalidInput
from buildlog.physics import sweep
from buildlog.rawfiles.spec import ColumnSpec
from buildlog.rawfiles.table import read_table
from buildlog.records.session import Column, Pull, Session

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
    power at the wheels or already reckoned to the crank by the machine.
    """

    pull: Pull
    channels: Mapping[str, Floats]
    power: Floats
    power_source: str
    at: Literal["wheel", "crank"]
    cuts: tuple[str, ...]
    rows: int
    notes: tuple[str, ...] = field(default=())

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


def columns_of(session: Session, pull: Pull) -> dict[str, Column]:
    """The columns of a pull's file by channel: the session's, and the pull's own over them."""
    return {column.channel: column for column in (*session.column, *pull.column)}


def read_pull(session: Session, pull: Pull, files: Mapping[str, bytes]) -> PullData:
    """Read and trim one pull; `files` are the session's raw files by name.

    InvalidInput names the file and what is missing or cannot be read.
    """
    if pull.file not in files:
        raise InvalidInput(
            f"the raw file {pull.file} is missing",
            where=f"pull {pull.name}",
            hint="put it back beside session.toml, or set use = false with a reason",
        )
    columns = columns_of(session, pull)
    specs = [
        ColumnSpec(c.channel, c.name, c.unit or "", display_stoichiometric=c.display_stoichiometric)
        for c in columns.values()
    ]
    table = read_table(files[pull.file], pull.file, specs, rows=pull.rows)
    channels = dict(table.channels)
    power, source = _power(channels, pull)
    axis = channels.get("engine_speed", channels.get("road_speed"))
    if axis is None:
        axis = channels.get("roller_speed", channels.get("hub_speed"))
    if axis is None:
        raise InvalidInput(
            "neither engine speed nor road speed is among its columns",
            where=f"pull {pull.name} ({pull.file})",
            hint="name the column with --map engine_speed=COLUMN:rpm or road_speed=COLUMN:km/h",
        )
    try:
        found = sweep.trim_sweep(axis, power, time=channels.get("time"))
    except ValueError as error:
        raise InvalidInput(str(error), where=f"pull {pull.name} ({pull.file})") from None
    named = columns.get("power", columns.get("torque"))
    return PullData(
        pull,
        {name: values[found.index] for name, values in channels.items()},
        power[found.index],
        source,
        (named.at if named and named.at else "wheel"),
        found.sentences(),
        found.rows,
    )


def _power(channels: Mapping[str, Floats], pull: Pull) -> tuple[Floats, str]:
    """Power [W] of a pull and where it comes from."""
    if "power" in channels:
        return channels["power"], "power in the file"
    parts = [channels[name] for name in ("power_front", "power_rear") if name in channels]
    if parts:
        return np.sum(parts, axis=0), "power of the axles in the file, added"
    if "torque" in channels and "engine_speed" in channels:
        return channels["torque"] * channels["engine_speed"], "torque times engine speed"
    if "tractive_force" in channels and "road_speed" in channels:
        return channels["tractive_force"] * channels["road_speed"], "tractive force times speed"
    raise InvalidInput(
        "neither power nor torque can be had from its columns",
        where=f"pull {pull.name} ({pull.file})",
        hint="name the column with --map power=COLUMN:kW",
    )
