"""A session's sheet: its pulls as curves, grouped, with scatter, peaks and findings."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from buildlog.analysis import sheet_findings
from buildlog.analysis.curves import Conversion, Curve, conversion, curve, si_axis
from buildlog.analysis.pull_data import AXIS_STEP, AxisName, Floats, read_pull
from buildlog.errors import InvalidInput
from buildlog.findings import Finding
from buildlog.physics import regression, repeatability
from buildlog.physics.repeatability import Scatter
from buildlog.records.configuration import Configuration
from buildlog.records.session import Session

DEFAULT_STANDARD = "SAE J1349"
WIDTH_ON_GRID = 6  # grid steps: the mean curve is already smooth, its top is found on it


@dataclass(frozen=True)
class Top:
    """The highest point of a mean curve: value in SI, place in rpm or km/h."""

    value: float
    at: float
    at_edge: bool


@dataclass(frozen=True)
class Group:
    """Pulls of one configuration and one calibration.

    `power` (n, g) [W] on the sheet's grid, `mean` and `torque` (g,) [W, N*m]; NaN where
    not every pull of the group has been. `torque` is None where it cannot be known.
    """

    key: str
    kept: bool
    curves: tuple[Curve, ...]
    power: Floats
    mean: Floats
    torque: Floats | None
    peak_power: Top
    peak_torque: Top | None

    @property
    def pulls(self) -> int:
        """How many pulls stand behind the mean."""
        return len(self.curves)


@dataclass(frozen=True)
class Sheet:
    """One session worked out. `grid` is in rpm or km/h, as `axis` says."""

    name: str
    session: Session
    conversion: Conversion
    axis: AxisName
    grid: Floats
    groups: tuple[Group, ...]
    unused: tuple[Curve, ...]
    scatter: Scatter
    torque_reason: str | None
    findings: tuple[Finding, ...] = field(default=())
    pooled_with: tuple[str, ...] = field(default=())

    @property
    def standard(self) -> str:
        """The standard that the numbers are in; "none" is observed power."""
        return self.conversion.reached

    @property
    def curves(self) -> tuple[Curve, ...]:
        """All pulls that count, group by group."""
        return tuple(curve for group in self.groups for curve in group.curves)

    @property
    def kept(self) -> Group | None:
        """The group whose configuration stays in the car: marked, or the only or last one."""
        marked = [group for group in self.groups if group.kept]
        chosen = marked or list(self.groups)
        return chosen[-1] if chosen else None

    @property
    def at(self) -> str:
        """Where the power was measured: "wheels", "hubs" or "crank"."""
        if self.curves and self.curves[0].data.at == "crank":
            return "crank"
        driven = self.session.dyno.driven if self.session.dyno else None
        return "hubs" if driven == "hubs" else "wheels"

    @property
    def observed_is_better(self) -> bool:
        """Whether the place's own height, and nothing else, puts its air outside the standard."""
        return any(finding.code == "altitude" for finding in self.findings)

    @property
    def u_power(self) -> float:
        """Relative standard uncertainty common to all its power: of a road log's estimate."""
        return max((curve.data.u_power for curve in self.curves), default=0.0)

    @property
    def u_speed(self) -> float:
        """Relative standard uncertainty of an engine speed that was recovered."""
        states = [c.speed.u for c in self.curves if c.speed.state == "recovered"]
        return max(states, default=0.0)

    def mean_half_width(self, group: Group) -> Floats:
        """Pointwise 95 % half-width [W] of a group's mean curve."""
        own = repeatability.mean_half_width(self.scatter, group.pulls)
        return math.hypot(own, repeatability.Z95 * self.u_power) * group.mean

    def torque_half_width(self, group: Group) -> Floats | None:
        """The same of its torque [N*m], with the engine speed's uncertainty where recovered."""
        if group.torque is None:
            return None
        share = self.mean_half_width(group) / group.mean
        return np.hypot(share, repeatability.Z95 * self.u_speed) * group.torque

    def peak_half_width(self, group: Group) -> float:
        """95 % half-width [W] of a group's peak power."""
        own = repeatability.mean_half_width(self.scatter, group.pulls)
        return math.hypot(own, repeatability.Z95 * self.u_power) * group.peak_power.value

    def factors(self) -> tuple[float, ...]:
        """The correction factors of its pulls, one where all are alike."""
        return tuple(sorted({round(c.factor.value, 5) for c in self.curves if c.factor}))


def sheet(
    name: str,
    session: Session,
    files: Mapping[str, bytes],
    configuration: Configuration,
    standard: str = DEFAULT_STANDARD,
) -> Sheet:
    """Work out a session. `files` are its raw files by name.

    A pull that cannot be read becomes a finding; InvalidInput if none can be read and
    no value is stated.
    """
    try:
        converting = conversion(session, configuration, standard)
    except ValueError as error:
        raise InvalidInput(str(error), where=f"session {name}") from None
    curves, findings = _curves(session, files, configuration, standard, converting)
    used = [c for c in curves if c.data.pull.use]
    unused = tuple(c for c in curves if not c.data.pull.use)
    if not used and not session.stated:
        first = next((f for f in findings if f.severity == "error"), None)
        raise InvalidInput(
            first.text if first else "it has no pull that counts and no stated value",
            where=first.where if first else f"session {name}",
            hint=first.hint if first else 'add raw files with "buildlog dyno add"',
        )
    axis: AxisName = (
        "engine_speed" if used and all("engine_speed" in c.axis for c in used) else "road_speed"
    )
    grid = _grid(used, axis)
    groups = tuple(_groups(used, axis, grid))
    scatter = (
        repeatability.pooled_scatter([g.power for g in groups]) if groups else None
    ) or repeatability.typical_scatter()
    reason = None if axis == "engine_speed" else _torque_reason(used)
    body = Sheet(name, session, converting, axis, grid, groups, unused, scatter, reason)
    found = (*findings, *sheet_findings.of(body, configuration))
    return Sheet(
        name, session, converting, axis, grid, groups, unused, scatter, reason, tuple(found)
    )


def _curves(
    session: Session,
    files: Mapping[str, bytes],
    configuration: Configuration,
    standard: str,
    converting: Conversion,
) -> tuple[list[Curve], list[Finding]]:
    curves: list[Curve] = []
    findings: list[Finding] = []
    for pull in session.pull:
        try:
            data = read_pull(session, pull, files, configuration)
            curves.append(curve(session, data, configuration, standard, converting))
        except (InvalidInput, ValueError) as error:
            where = getattr(error, "where", None) or f"pull {pull.name}"
            what = getattr(error, "what", str(error))
            hint = getattr(error, "hint", None)
            findings.append(Finding("pull-unreadable", "error", what, (), where, hint))
    return curves, findings


def _grid(curves: Sequence[Curve], axis: AxisName) -> Floats:
    """Every step that at least one pull has been through."""
    if not curves:
        return np.empty(0)
    low = min(float(np.nanmin(c.axis[axis])) for c in curves)
    high = max(float(np.nanmax(c.axis[axis])) for c in curves)
    return regression.grid(low, high, AXIS_STEP[axis])


def _groups(curves: Sequence[Curve], axis: AxisName, grid: Floats) -> list[Group]:
    keys = list(dict.fromkeys(c.data.group for c in curves))
    return [group_of(key, [c for c in curves if c.data.group == key], axis, grid) for key in keys]


def group_of(key: str, curves: Sequence[Curve], axis: AxisName, grid: Floats) -> Group:
    """Pulls put together on a grid: their mean, torque where it can be known, and tops."""
    power = np.vstack([c.on(axis, grid) for c in curves])
    mean = power.mean(axis=0)
    torque = mean / si_axis(axis, grid) if axis == "engine_speed" else None
    kept = any(c.data.pull.keep for c in curves)
    return Group(
        key,
        kept,
        tuple(curves),
        power,
        mean,
        torque,
        top(grid, mean, axis),
        None if torque is None else top(grid, torque, axis),
    )


def top(grid: Floats, values: Floats, axis: AxisName) -> Top:
    """The highest point of a smooth curve on its grid, between the grid's steps."""
    known = np.isfinite(values)
    if known.sum() < 5:
        raise InvalidInput("the pulls of this group have too little range in common for a curve")
    found = regression.peak(grid[known], values[known], WIDTH_ON_GRID * AXIS_STEP[axis])
    return Top(found.value, found.location, found.at_edge)


def _torque_reason(curves: Sequence[Curve]) -> str:
    reasons = {c.speed.words for c in curves if c.speed.state == "missing"}
    return "; ".join(sorted(reasons)) or "no pulls"
