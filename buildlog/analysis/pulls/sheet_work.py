"""A session worked out: from its raw files to its sheet."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from buildlog.analysis.pulls import sheet_findings
from buildlog.analysis.pulls.curves import Conversion, Curve, conversion, curve
from buildlog.analysis.pulls.pull_data import AXIS_SI, AXIS_STEP, AxisName, Floats, read_pull
from buildlog.analysis.pulls.sheet import DEFAULT_STANDARD, PullGroup, Sheet, Top
from buildlog.errors import InvalidInput, refused_at
from buildlog.findings import Finding
from buildlog.physics.numerics import regression, repeatability
from buildlog.physics.numerics.levelling import Levelled, levelled
from buildlog.records.car.configuration import Configuration
from buildlog.records.session import Session

LEAST_PLACES = 5  # of a curve: fewer have no top
FADE = 1 / 15  # of the range: 300 rpm of 4,500
WIDTH_ON_GRID = 6  # grid steps: the mean curve is already smooth, its top is found on it


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
    with refused_at(f"session {name}"):
        converting = conversion(session, configuration, standard)
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
    groups = tuple(
        group_of(key, [c for c in used if c.data.group == key], axis, grid)
        for key in dict.fromkeys(c.data.group for c in used)
    )
    scatter = (
        repeatability.pooled_scatter([g.power for g in groups]) if groups else None
    ) or repeatability.typical_scatter()
    reason = None if axis == "engine_speed" else _torque_reason(used)
    electric = configuration.car.power_source == "electric"
    turning = "motor speed" if electric else "engine speed"
    body = Sheet(
        name, session, converting, axis, grid, groups, unused, scatter, reason, turning=turning
    )
    return replace(body, findings=(*findings, *sheet_findings.of(body, configuration)))


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


def group_of(key: str, curves: Sequence[Curve], axis: AxisName, grid: Floats) -> PullGroup:
    """Pulls put together on a grid: their mean, torque where it can be known, and tops."""
    power = np.vstack([c.on(axis, grid) for c in curves])
    levels = level(power, grid)
    mean = levels.mean
    torque = mean / (grid * AXIS_SI[axis]) if axis == "engine_speed" else None
    peaks = [(c.name, _own_top(c, axis)) for c in curves]
    kept = any(c.data.pull.keep for c in curves)
    return PullGroup(
        key,
        kept,
        tuple(curves),
        power,
        levels,
        torque,
        _inside(_top_of(levels, grid, mean, axis), grid, curves),
        None if torque is None else _inside(_top_of(levels, grid, torque, axis), grid, curves),
        max(peaks, key=lambda peak: peak[1].value),
    )


def _top_of(levels: Levelled, grid: Floats, values: Floats, axis: AxisName) -> Top:
    """The highest point where all pulls have been, unless the mean goes higher beyond."""
    common = np.where(levels.count == len(levels.levels), values, np.nan)
    known = np.isfinite(common).sum() >= LEAST_PLACES
    if known and np.nanmax(common) >= np.nanmax(values):
        return top(grid, common, axis)
    return top(grid, values, axis)


def level(power: Floats, grid: Floats) -> Levelled:
    """The mean of pulls (n, g) on a grid, each pull's own level estimated where their ranges
    differ; what fades fades over a fifteenth of the usual range (300 rpm)."""
    return levelled(power, max(round(FADE * grid.size), 1), power / grid)


def _own_top(curve: Curve, axis: AxisName) -> Top:
    peak = curve.peak(axis)
    return _inside(Top(peak.value, peak.location, peak.at_edge), curve.axis[axis], [curve])


def _inside(top: Top, axis: Floats, curves: Sequence[Curve]) -> Top:
    """The top, at the edge where it lies within one smoothing width of the end of a trace that
    power was worked out from: what follows there is not known."""
    width = top.at * max((curve.data.smoothing or 0.0 for curve in curves), default=0.0)
    edge = width > 0 and top.at > float(np.nanmax(axis)) - width
    return replace(top, at_edge=top.at_edge or edge)


def top(grid: Floats, values: Floats, axis: AxisName) -> Top:
    """The highest point of a smooth curve on its grid, between the grid's steps."""
    known = np.isfinite(values)
    if known.sum() < LEAST_PLACES:
        raise InvalidInput("the pulls of this group have too little range in common for a curve")
    found = regression.peak(grid[known], values[known], WIDTH_ON_GRID * AXIS_STEP[axis])
    return Top(found.value, found.location, found.at_edge)


def _torque_reason(curves: Sequence[Curve]) -> str:
    reasons = {c.speed.words for c in curves if c.speed.state == "missing"}
    return "; ".join(sorted(reasons)) or "no pulls"
