"""What a version asks of its limits: `buildlog margins`, `buildlog headroom`."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from buildlog.analysis.margins.figures.margin_rows import Band, Row, Rule
from buildlog.desk.views.view import Absent, Forms, ListView, View
from buildlog.findings import Finding
from buildlog.report.numbers import share

if TYPE_CHECKING:
    from buildlog.analysis.answers.look_answers import HeadroomAnswer, MarginsAnswer
    from buildlog.analysis.margins.first_reached import Ends, ReachedLimit
    from buildlog.desk.views.car_version import CarVersion
    from buildlog.units import System


class MarginRow:
    """One limit: what is asked of it, what it stands, what is left.

    `demand`, `capacity` and `left` are bands (`p10`, `p50`, `p90`) in the SI unit that `unit`
    names, None where they are unknown; `share` is what is left as a share of the limit, None
    where a share has no meaning.
    """

    def __init__(self, row: Row) -> None:
        self._row = row
        ratio = row.kind.rule is Rule.RATIO
        self.name = row.name
        """Which limit: "clutch torque"."""
        self.state = row.state.value
        """ "clear", "close", "over" or "unknown"."""
        self.basis = row.basis
        """What the weaker side rests on: "measured", "declared", "computed", ..., "missing"."""
        self.unit = row.kind.unit
        """The SI unit of demand, capacity and left."""
        self.demand: Band | None = row.margin.demand
        self.capacity: Band | None = row.margin.capacity
        self.left: Band | None = None if ratio else row.margin.left
        self.share: Band | None = row.margin.left if ratio else None
        self.missing = row.ask
        """The fields that would answer where it is unknown."""
        self.information = row.kind.information
        """Whether it is no limit of a part, only told."""

    def __repr__(self) -> str:
        left = "" if self.share is None else f", {share(self.share.p50)} left"
        return f"<margin {self.name}: {self.state}{left}>"


class MarginsView(ListView[MarginRow]):
    """Every limit of a version, tightest first, unknown ones last."""

    def __init__(self, found: MarginsAnswer, version: CarVersion, units: System) -> None:
        self._found, self._units = found, units
        self._rows = tuple(map(MarginRow, found.rows))
        self.version = version
        self.findings: tuple[Finding, ...] = found.findings
        """Data that make no sense, and what no model covers."""

    def _forms(self) -> Forms:
        from buildlog.report.as_json.margins_json import margins_json
        from buildlog.report.as_text.margins_text import margins_lines

        found = self._found
        states = Counter(row.state for row in self if not row.information)
        said = ", ".join(f"{count} {state}" for state, count in states.items())
        return Forms(
            lambda: margins_lines(found, self._show),
            lambda: margins_json(found),
            lambda: f"margins of {found.version.name}: {said or 'none'}",
            lambda: self._tables.margins_html(found, self._show),
        )


class ReachedRow:
    """Where a limit is reached as power is raised; an end is None where it is not in the range."""

    def __init__(self, found: ReachedLimit) -> None:
        self.name = found.name
        """Which limit."""
        self.wheel_power_w: Ends = found.power
        """Wheel power at which it is reached [W]: `p10`, `p50`, `p90`."""
        self.boost_gauge_pa: Ends | Absent = found.boost or Absent("boost", "nothing compresses")
        """Boost at which it is reached [Pa gauge]."""
        self.basis = found.row.basis
        """What it rests on."""

    def __repr__(self) -> str:
        at = self.wheel_power_w.p50
        return f"<{self.name} reached at {f'{at / 1e3:.0f} kW' if at else 'no power looked at'}>"


class HeadroomView(View):
    """What runs out first when power is raised, and then."""

    def __init__(self, found: HeadroomAnswer, version: CarVersion, units: System) -> None:
        self._found, self._units = found, units
        room = found.room
        self.version = version
        self.wheel_power_w = room.power
        """The present power at the wheels, the middle of its band [W]."""
        self.limits = tuple(map(ReachedRow, room.limits))
        """The limits in the order in which they are reached."""
        self.reached_now = tuple(row.name for row in room.over)
        """Limits that are reached already."""
        self.unknown = tuple(row.name for row in room.unknown)
        """Limits that nobody can answer for want of a datum."""
        self.findings: tuple[Finding, ...] = found.findings
        """What to look at."""

    def _forms(self) -> Forms:
        from buildlog.report.as_json.margins_json import headroom_json
        from buildlog.report.as_text.headroom_text import headline, headroom_lines

        found = self._found
        return Forms(
            lambda: headroom_lines(found, self._show),
            lambda: headroom_json(found),
            lambda: f"headroom of {found.version.name}: {headline(found.room, self._show)}",
        )
