"""What sessions say beside each other, for other programs: comparisons, machines, coast-downs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from buildlog.analysis.pulls.coasting import CoastDown
from buildlog.analysis.pulls.logs_added import LogsAdded
from buildlog.analysis.pulls.measured import Relation
from buildlog.analysis.pulls.session_added import SessionAdded
from buildlog.analysis.pulls.session_draft import RawFile
from buildlog.analysis.pulls.stated_values import SessionComparison, StatedComparison, StatedPoint
from buildlog.report.as_json.diff_json import measured_json
from buildlog.report.as_json.sheet_json import log_json, two_json
from buildlog.report.numbers import finite


def comparison_json(found: SessionComparison) -> dict[str, Any]:
    """The body of `dyno compare --json`."""
    body = measured_json(found.measured) if found.measured else _stated(found.stated)
    return body | ({"why_observed": found.why_observed} if found.why_observed else {})


def _stated(points: Sequence[StatedComparison]) -> dict[str, Any]:
    """Declared values for programs."""
    return {
        "comparable": False,
        "reasons": ["declared, scatter not known"],
        "stated": [
            {
                "quantity": one.quantity,
                "from": _point_json(one.before),
                "to": _point_json(one.after),
                "delta_si": one.delta,
                "reasons": list(one.reasons),
            }
            for one in points
        ],
    }


def _point_json(point: StatedPoint) -> dict[str, Any]:
    return {
        "value_si": point.value,
        "at": point.at,
        "standard": point.standard,
        "measured_at": point.place,
        "basis": point.basis,
        "source": point.source,
    }


def relation_json(found: Relation) -> dict[str, Any]:
    """The body of `dyno relate --json`."""
    return {
        "first": found.first,
        "second": found.second,
        "ratio": found.ratio,
        "half_width_95": found.half_width,
        "dof": finite(found.dof),
        "u_difference": found.u_difference,
        "pairs": [
            {"sessions": list(pair), "ratio": ratio}
            for pair, ratio in zip(found.pairs, found.ratios, strict=True)
        ],
    }


def coast_json(found: CoastDown) -> dict[str, Any]:
    """The body of `dyno coast --json`."""
    load, (u_a, u_b, u_c) = found.load, found.u
    return {
        "a_n": load.a,
        "b_n_s_per_m": load.b,
        "c_n_s2_per_m2": load.c,
        "u_a_n": u_a,
        "u_b_n_s_per_m": u_b,
        "u_c_n_s2_per_m2": u_c,
        "runs": found.runs,
        "effective_mass_kg": found.effective_mass,
    }


def added_json(done: SessionAdded) -> dict[str, Any]:
    """The body of `dyno add --json`; power in W, places in rpm or km/h as `axis` says."""
    sheet = done.sheet
    group = sheet.kept
    return {
        "session": sheet.name,
        "path": f"dyno/{sheet.name}",
        "standard": sheet.standard,
        "axis": sheet.axis,
        "at": sheet.at,
        "peak_power_w": group.peak_power.value if group else None,
        "peak_at": group.peak_power.at if group else None,
        "files": [_file_json(one) for one in done.files],
        "pulls": [
            {
                "name": curve.name,
                "file": curve.data.pull.file,
                "group": group.key,
                "peak_power_w": curve.peak(sheet.axis).value,
                "at": curve.peak(sheet.axis).location,
                "engine_speed_source": curve.speed.state,
            }
            for group in sheet.groups
            for curve in group.curves
        ],
        "findings": [
            {"code": f.code, "severity": f.severity, "text": f.text, "paths": list(f.paths)}
            for f in done.findings
        ],
        "next": done.record.line,
    }


def logs_json(done: LogsAdded) -> dict[str, Any]:
    """The body of `dyno log --json`; places in rpm or km/h as `axis` says."""
    return {
        "session": done.session,
        "path": f"dyno/{done.session}",
        "axis": done.axis,
        "files": [_file_json(one) for one in done.files],
        "logs": [log_json(one) for one in done.logs],
        "one_quantity_twice": [two_json(one) for one in done.doubled],
        "paired": done.paired,
        "findings": [
            {"code": f.code, "severity": f.severity, "text": f.text, "paths": list(f.paths)}
            for f in done.findings
        ],
        "next": done.record.line,
    }


def _file_json(one: RawFile) -> dict[str, Any]:
    columns = [
        {"name": c.name, "channel": c.channel, "unit": c.unit, "assumed": c.assumed, "why": c.why}
        for c in one.proposal.columns
    ]
    return {
        "file": one.name,
        "columns": columns,
        "outside_sha256": one.outside[0] if one.outside else None,
        "outside_size": one.outside[1] if one.outside else None,
    }
