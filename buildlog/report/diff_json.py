"""A diff as the JSON that other programs rely on: SI numbers, units in the keys."""

from __future__ import annotations

import datetime as dt
from typing import Any

from buildlog.analysis.changes import Change
from buildlog.analysis.diff import Diff
from buildlog.analysis.measured import Delta, Extreme, Measured
from buildlog.analysis.sheet import Top
from buildlog.analysis.version import Version
from buildlog.findings import Finding
from buildlog.records.paths import Value
from buildlog.units import Quantity


def diff_json(result: Diff) -> dict[str, Any]:
    """The body of `diff --json`."""
    return {
        "from": version_json(result.before),
        "to": version_json(result.after),
        "why_these": result.why_these,
        "changes": [change_json(change) for change in result.changes],
        "replaced": [
            {"path": r.path, "since": r.since, "distance_km": _km(r.distance), "why": r.why_unknown}
            for r in result.replaced
        ],
        "measured": measured_json(result.measured) if result.measured else None,
        "measured_reason": result.measured_reason,
        "findings": [finding_json(finding) for finding in result.findings],
    }


def version_json(version: Version) -> dict[str, Any]:
    """Which version, when, at what odometer."""
    return {
        "entry": version.number or None,
        "id": version.id or None,
        "name": version.name,
        "kind": version.kind,
        "stage": version.stage,
        "date": version.date.isoformat() if version.date else None,
        "odometer_km": _km(version.odometer),
    }


def change_json(change: Change) -> dict[str, Any]:
    """One field that differs."""
    return {
        "path": change.path,
        "assembly": change.assembly,
        "kind": change.kind,
        "made": change.made,
        "from": value_json(change.old),
        "to": value_json(change.new),
    }


def value_json(value: Value | None) -> dict[str, Any] | None:
    """A value with its text, its SI number and its unit."""
    if value is None:
        return None
    if isinstance(value, Quantity):
        return {"text": value.text, "si": value.si, "unit": value.unit.text}
    if isinstance(value, tuple):
        plain = [v.text if isinstance(v, Quantity) else v for v in value]
        return {"text": ", ".join(map(str, plain)), "si": _numbers(value), "unit": None}
    if isinstance(value, bool):
        return {"text": "true" if value else "false", "si": None, "unit": None}
    if isinstance(value, int | float):
        return {"text": f"{value:g}", "si": float(value), "unit": None}
    if isinstance(value, dt.date | dt.time):
        return {"text": value.isoformat(), "si": None, "unit": None}
    return {"text": str(value), "si": None, "unit": None}


def _numbers(value: tuple[Any, ...]) -> list[float] | None:
    out = [v.si if isinstance(v, Quantity) else v for v in value]
    return [float(v) for v in out] if all(isinstance(v, int | float) for v in out) else None


def measured_json(result: Measured) -> dict[str, Any]:
    """The block that `diff` and `dyno compare` share."""
    return {
        "comparable": result.comparable,
        "reasons": list(result.reasons),
        "standard": result.standard,
        "at": result.at,
        "axis": result.axis,
        "axis_unit": "rpm" if result.axis == "engine_speed" else "km/h",
        "sessions": [sheet.name for sheet in result.sheets],
        "pulls": list(result.pulls),
        "scatter": {"relative": result.scatter.s, "dof": _finite(result.scatter.dof),
                    "basis": result.scatter.basis},
        "widened_for": [{"reason": p.text, "relative": p.u} for p in result.parts],
        "power": _delta(result.power, "w"),
        "torque": _delta(result.torque, "nm") if result.torque else None,
        "torque_reason": result.torque_reason,
        "range": list(result.range),
        "largest_gain": _extreme(result.largest_gain),
        "largest_loss": _extreme(result.largest_loss),
        "curve": {
            "grid": result.grid.tolist(),
            "from_w": result.mean_from.tolist(),
            "to_w": result.mean_to.tolist(),
            "delta_w": result.delta.tolist(),
            "half_width_95_w": result.half_width.tolist(),
        },
    }  # fmt: skip


def _delta(delta: Delta, unit: str) -> dict[str, Any]:
    return {
        "unit": {"w": "W", "nm": "N*m"}[unit],
        "peak_from": _top(delta.peak_from),
        "peak_to": _top(delta.peak_to),
        "peak_delta": delta.peak_delta,
        "half_width_95": delta.half_width_95,
        "mean_delta": delta.mean_delta,
        "mean_half_width_95": delta.mean_half_width_95,
        "beyond_scatter": delta.beyond_scatter,
        "mean_beyond_scatter": delta.mean_beyond_scatter,
    }


def _top(top: Top) -> dict[str, Any]:
    return {"value": top.value, "at": top.at, "at_edge": top.at_edge}


def _extreme(extreme: Extreme | None) -> dict[str, Any] | None:
    if extreme is None:
        return None
    return {
        "relative": extreme.relative,
        "value_w": extreme.value,
        "at": extreme.at,
        "shown": extreme.shown,
    }


def finding_json(finding: Finding) -> dict[str, Any]:
    """A finding for programs."""
    return {
        "code": finding.code,
        "severity": finding.severity,
        "text": finding.text,
        "paths": list(finding.paths),
        "where": finding.where,
        "hint": finding.hint,
    }


def _km(metres: float | None) -> float | None:
    return None if metres is None else metres / 1000


def _finite(value: float) -> float | None:
    return value if value < 1e300 else None
