"""Curves as arrays: one unit each, named; nothing in them can be written over.

What cannot be known is `Absent` with its reason, never an array of something else.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from buildlog.analysis.pulls.pull_data import AXIS_SI, AXIS_UNIT, AxisName, Floats, columns_of
from buildlog.channels import CHANNELS
from buildlog.desk.views.view import Absent
from buildlog.findings import how_many
from buildlog.units import find, si_text

if TYPE_CHECKING:
    from buildlog.analysis.pulls.curves import Curve
    from buildlog.analysis.pulls.sheet import Sheet

_AXIS_WORDS: dict[AxisName, str] = {"engine_speed": "engine speed", "road_speed": "road speed"}


def locked(values: Floats) -> Floats:
    """The same array, not to be written to: it is kept for the next answer, too."""
    view = values.view()
    view.flags.writeable = False
    return view


class OnAxis:
    """Something over engine speed [rpm] or road speed [km/h], or both where both are known.

    Whether an array is there is asked by `isinstance(array, Absent)`: numpy's have no truth.
    """

    def __init__(self, axis: Mapping[AxisName, Floats], why_not: Mapping[AxisName, str]) -> None:
        self._axis = {name: locked(values) for name, values in axis.items()}
        self._why_not = why_not

    def __bool__(self) -> Literal[True]:
        return True

    @property
    def axis_rpm(self) -> Floats | Absent:
        """Engine speed [rpm], (n,)."""
        return self._on("engine_speed")

    @property
    def axis_kmh(self) -> Floats | Absent:
        """Road speed [km/h], (n,)."""
        return self._on("road_speed")

    def _on(self, name: AxisName) -> Floats | Absent:
        found = self._axis.get(name)
        return Absent(_AXIS_WORDS[name], self._why_not[name]) if found is None else found


class PullCurve(OnAxis):
    """One pull, row by row of its full-load sweep (n rows).

    `power_w` is at the wheels (or as `at` says) by `standard`, "none" for observed power.
    `channels` holds every logged channel by name, in the SI unit that `units` names.
    """

    def __init__(self, curve: Curve, sheet: Sheet) -> None:
        no_road = "its file holds no road speed"
        super().__init__(curve.axis, {"engine_speed": curve.speed.words, "road_speed": no_road})
        self._curve, self._sheet = curve, sheet
        self.name = curve.name
        """The pull's name in its session."""
        self.file = curve.data.pull.file
        """The raw file it was read from, in the session's folder."""
        self.used = curve.data.pull.use
        """Whether it counts for the mean."""
        self.group = curve.data.group
        """Its calibration and quick change: what groups it with other pulls."""
        self.standard = sheet.standard
        """The power correction that `power_w` is in."""
        self.at = curve.data.at
        """Where that power is: "wheel", or "crank" as the machine reckoned it."""

    @property
    def power_w(self) -> Floats:
        """Power [W], (n,)."""
        return locked(self._curve.power)

    @property
    def observed_w(self) -> Floats | Absent:
        """Power as it was in that day's air [W], (n,)."""
        observed = self._curve.observed
        if observed is None:
            return Absent("observed power", "what was applied to the file is not known")
        return locked(observed)

    @property
    def torque_nm(self) -> Floats | Absent:
        """Torque referred to engine speed [N*m], (n,)."""
        speed = self._axis.get("engine_speed")
        if speed is None:
            return Absent("torque", self._why_not["engine_speed"])
        return locked(self._curve.power / (speed * AXIS_SI["engine_speed"]))

    @property
    def channels(self) -> Mapping[str, Floats]:
        """Every logged channel by name [SI], (n,)."""
        return {name: locked(values) for name, values in self._curve.data.channels.items()}

    @property
    def units(self) -> Mapping[str, str]:
        """The SI unit of each channel; "" for one that has none."""
        columns = columns_of(self._sheet.session, self._curve.data.pull)
        written = {name: column.unit for name, column in columns.items()}
        return {name: _unit(name, written.get(name)) for name in self._curve.data.channels}

    def _rows(self) -> dict[str, tuple[Floats, str, str]]:
        """Each channel with its unit and standard, power and torque by the sheet's first."""
        found: dict[str, tuple[Floats, str, str]] = {"power": (self.power_w, "W", self.standard)}
        torque = self.torque_nm
        if not isinstance(torque, Absent):
            found["torque"] = (torque, "N*m", self.standard)
        units = self.units
        logged = self.channels.items()
        return found | {n: (v, units[n], "") for n, v in logged if n not in found}

    def __repr__(self) -> str:
        peak = float(np.max(self.power_w)) / 1000
        rows = how_many(self.power_w.size, "row")
        return f"<pull {self.name}: {rows}, up to {peak:.1f} kW, {self.standard}>"


class MeanCurve(OnAxis):
    """The mean of a session's pulls that count, on an even grid (g places)."""

    def __init__(
        self, sheet: Sheet, power_w: Floats, torque_nm: Floats | None, half_width_w: Floats
    ) -> None:
        only = (
            f"the mean of these pulls is over {_AXIS_WORDS[sheet.axis]} [{AXIS_UNIT[sheet.axis]}]"
        )
        super().__init__({sheet.axis: sheet.grid}, dict.fromkeys(_AXIS_WORDS, only))
        self._torque, self._why_no_torque = torque_nm, sheet.torque_reason
        self.power_w = locked(power_w)
        """Mean power [W], (g,); NaN where not every pull has been."""
        self.half_width_95_w = locked(half_width_w)
        """Half-width of its 95 % interval [W], (g,)."""
        self.standard = sheet.standard
        """The power correction it is in."""

    @property
    def torque_nm(self) -> Floats | Absent:
        """Mean torque referred to engine speed [N*m], (g,)."""
        if self._torque is None:
            return Absent("torque", self._why_no_torque or "the engine speed is not known")
        return locked(self._torque)


def _unit(channel: str, written: str | None) -> str:
    """The SI unit of a channel: by the unit of its column, else by what it always measures."""
    dimensions = CHANNELS.get(channel)
    if not dimensions:
        return ""
    column = find(written, dimensions) if written else None
    return si_text(column.dimension if column else dimensions[0])


def long_columns(sheet: Sheet) -> dict[str, Any]:
    """A session's pulls as long columns: one row for each value of each channel."""
    unit = AXIS_UNIT[sheet.axis]
    columns: dict[str, list[Any]] = {name: [] for name in COLUMNS}
    for curve in (*sheet.curves, *sheet.unused):
        if sheet.axis not in curve.axis:
            continue
        for channel, (values, own, standard) in PullCurve(curve, sheet)._rows().items():
            same = (sheet.name, curve.name, unit, channel, own, standard)
            for name, value in zip(_SAME, same, strict=True):
                columns[name].append(np.full(values.size, value, dtype=object))
            columns["axis"].append(curve.axis[sheet.axis])
            columns["value"].append(values)
    return {name: np.concatenate(found) if found else [] for name, found in columns.items()}


COLUMNS = ("session", "pull", "axis", "axis_unit", "channel", "value", "unit", "standard")
_SAME = ("session", "pull", "axis_unit", "channel", "unit", "standard")
