"""What was measured: a session with its pulls as arrays, and the difference of two versions."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from buildlog.analysis.pulls.pull_data import AXIS_UNIT, AxisName, Floats
from buildlog.desk.views.arrays import MeanCurve, OnAxis, PullCurve, locked, long_columns
from buildlog.desk.views.view import Absent, Forms, View
from buildlog.errors import MissingExtra
from buildlog.findings import Finding

if TYPE_CHECKING:
    from pandas import DataFrame

    from buildlog.analysis.pulls.measured import Delta, Measured
    from buildlog.analysis.pulls.sheet_report import SheetReport
    from buildlog.units import System


class SheetView(View):
    """One dyno session worked out: `buildlog dyno sheet`."""

    def __init__(self, report: SheetReport, units: System) -> None:
        self._report, self._sheet, self._units = report, report.sheet, units
        self._kept = report.sheet.kept or Absent("curve", "only stated values, no pull that counts")
        self.name = report.sheet.name
        """The session's name: "2026-05-09-stage-2"."""
        self.date: dt.date = report.sheet.session.date
        """The day it was measured."""
        self.standard = report.sheet.standard
        """The power correction that its numbers are in; "none" for observed power."""
        self.at = report.sheet.at
        """Where the power was measured: "wheels", "hubs" or "crank"."""
        self.axis_unit = AXIS_UNIT[report.sheet.axis]
        """The unit of the axis that the pulls share: "rpm" or "km/h"."""
        self.findings: tuple[Finding, ...] = report.findings
        """What to look at, worst first."""

    @property
    def pulls(self) -> tuple[PullCurve, ...]:
        """Its pulls, those that count first."""
        return tuple(PullCurve(c, self._sheet) for c in (*self._sheet.curves, *self._sheet.unused))

    @property
    def mean(self) -> MeanCurve | Absent:
        """The mean of the pulls whose configuration stayed in the car."""
        found = self._kept
        if isinstance(found, Absent):
            return found
        half = self._sheet.mean_half_width(found)
        return MeanCurve(self._sheet, found.mean, found.torque, half)

    @property
    def peak_power_w(self) -> float | Absent:
        """The highest point of the mean [W]."""
        found = self._kept
        return found if isinstance(found, Absent) else found.peak_power.value

    @property
    def peak_power_half_width_95_w(self) -> float | Absent:
        """Half-width of the peak's 95 % interval [W]."""
        found = self._kept
        return found if isinstance(found, Absent) else self._sheet.peak_half_width(found)

    @property
    def peak_torque_nm(self) -> float | Absent:
        """The highest point of the mean torque, referred to engine speed [N*m]."""
        found = self._kept
        if isinstance(found, Absent):
            return found
        if found.peak_torque is None:
            return Absent("torque", self._sheet.torque_reason or "the engine speed is not known")
        return found.peak_torque.value

    def to_frame(self) -> DataFrame:
        """All its pulls as one long, tidy frame of pandas.

        Columns: session, pull, axis (engine speed or road speed, in `axis_unit`), channel ("power",
        "torque", then every logged one), value in SI (`unit`), standard (of power and torque).
        MissingExtra where pandas is not installed.
        """
        try:
            from pandas import DataFrame
        except ImportError:
            raise MissingExtra(
                "a frame needs pandas, which is not installed",
                hint="pip install pandas; the arrays of .pulls need nothing",
            ) from None
        return DataFrame(long_columns(self._sheet))

    def _forms(self) -> Forms:
        from buildlog.report.as_json.sheet_json import sheet_json
        from buildlog.report.as_text.sheet_text import headline, sheet_lines

        report = self._report
        return Forms(
            lambda: sheet_lines(report, self._show),
            lambda: sheet_json(report),
            lambda: f"sheet {headline(report.sheet, self._show)}",
            lambda: self._tables.sheet_html(report, self._show),
        )


class PowerDelta:
    """Power before and after: `buildlog diff`, at the place that `MeasuredView.at` says."""

    def __init__(self, delta: Delta, comparable: bool) -> None:
        self.peak_from_w = delta.peak_from.value
        """Peak before [W]."""
        self.peak_to_w = delta.peak_to.value
        """Peak after [W]."""
        self.peak_delta_w = delta.peak_delta
        """Peak after minus before [W]."""
        self.half_width_95_w = delta.half_width_95
        """Half-width of the difference's 95 % interval [W]."""
        self.mean_delta_w = delta.mean_delta
        """Mean difference over the range that both sides cover [W]."""
        self.mean_half_width_95_w = delta.mean_half_width_95
        """Half-width of the mean difference's 95 % interval [W]."""
        self.beyond_scatter = delta.beyond_scatter if comparable else None
        """Whether the peaks differ by more than the interval; None where they are not alike."""

    def __repr__(self) -> str:
        return f"<power {self.peak_delta_w / 1e3:+.1f} ± {self.half_width_95_w / 1e3:.1f} kW, 95 %>"


class TorqueDelta:
    """Torque before and after, referred to engine speed."""

    def __init__(self, delta: Delta, comparable: bool) -> None:
        self.peak_from_nm = delta.peak_from.value
        """Peak before [N*m]."""
        self.peak_to_nm = delta.peak_to.value
        """Peak after [N*m]."""
        self.peak_delta_nm = delta.peak_delta
        """Peak after minus before [N*m]."""
        self.half_width_95_nm = delta.half_width_95
        """Half-width of the difference's 95 % interval [N*m]."""
        self.mean_delta_nm = delta.mean_delta
        """Mean difference over the range that both sides cover [N*m]."""
        self.mean_half_width_95_nm = delta.mean_half_width_95
        """Half-width of the mean difference's 95 % interval [N*m]."""
        self.beyond_scatter = delta.beyond_scatter if comparable else None
        """Whether the peaks differ by more than the interval; None where they are not alike."""

    def __repr__(self) -> str:
        return f"<torque {self.peak_delta_nm:+.0f} ± {self.half_width_95_nm:.0f} N*m, 95 %>"


class MeasuredView(OnAxis):
    """What was measured before and after, like for like or saying what is not alike.

    Over one axis, the range that both sides cover (g places): `axis_rpm` or `axis_kmh`.
    """

    def __init__(self, found: Measured) -> None:
        only: dict[AxisName, str] = dict.fromkeys(
            AXIS_UNIT, f"the two are compared over {AXIS_UNIT[found.axis]}"
        )
        super().__init__({found.axis: found.grid}, only)
        self._found = found
        self.comparable = found.comparable
        """Whether the numbers can be put side by side at all."""
        self.reasons = found.reasons
        """What is not alike, in a sentence each."""
        self.standard = found.standard
        """The power correction that both sides are in."""
        self.at = found.at
        """Where the power was measured: "wheels", "hubs" or "crank"."""
        self.sessions = tuple(sheet.name for sheet in found.sheets)
        """The sessions that stand for the two sides."""
        self.power = PowerDelta(found.power, found.comparable)
        """The peaks and means of power."""

    @property
    def torque(self) -> TorqueDelta | Absent:
        """The peaks and means of torque."""
        if self._found.torque is None:
            return Absent("torque", self._found.torque_reason or "it cannot be known on both sides")
        return TorqueDelta(self._found.torque, self.comparable)

    @property
    def from_w(self) -> Floats:
        """Mean power before [W], (g,)."""
        return locked(self._found.mean_from)

    @property
    def to_w(self) -> Floats:
        """Mean power after [W], (g,)."""
        return locked(self._found.mean_to)

    @property
    def delta_w(self) -> Floats:
        """Power after minus before [W], (g,)."""
        return locked(self._found.delta)

    @property
    def half_width_95_w(self) -> Floats:
        """Half-width of its 95 % interval [W], (g,)."""
        return locked(self._found.half_width)

    def __repr__(self) -> str:
        return f"<measured {' to '.join(self.sessions)}: {self.power!r} at the {self.at}>"
