"""A diff as the JSON that other programs rely on: SI numbers, units in the keys."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from buildlog.analysis.answers.comparison import Diff
from buildlog.analysis.answers.plan_result import BuiltPlan
from buildlog.analysis.pulls.measured import Delta, Extreme, Measured
from buildlog.analysis.pulls.pull_data import AXIS_UNIT
from buildlog.report.as_json.json_parts import change_json, finding_json, version_json
from buildlog.report.as_json.margins_json import changes_json
from buildlog.report.as_json.plan_json import promise_json
from buildlog.report.as_json.prediction_json import predicted_json
from buildlog.report.numbers import finite, kilometres


def diff_json(result: Diff) -> dict[str, Any]:
    """The body of `diff --json`."""
    return {
        **difference_json(result),
        "built_plan": _built(result.built) if result.built else None,
    }


def difference_json(result: Diff) -> dict[str, Any]:
    """The difference of two versions, wherever it is told."""
    return {
        "from": version_json(result.before),
        "to": version_json(result.after),
        "why_these": result.why_these,
        "changes": [change_json(change) for change in result.changes],
        "replaced": [
            {
                "path": r.path,
                "came": r.came,
                "since": r.since,
                "distance_km": kilometres(r.distance),
                "why": r.why_unknown,
            }
            for r in result.replaced
        ],
        "measured": measured_json(result.measured) if result.measured else None,
        "measured_reason": result.measured_reason,
        "predicted": predicted_json(result.predicted) if result.predicted else None,
        "predicted_reason": result.predicted_reason,
        "margins": changes_json(result.margins) if result.margins else [],
        "findings": [finding_json(finding) for finding in result.findings],
    }


def _built(built: BuiltPlan) -> dict[str, Any]:
    """A plan that one side is and the other holds: what it promised, gave, and left otherwise."""
    return {
        "name": built.name,
        "entry": built.entry,
        "fields": built.fields,
        "promised": promise_json(built.promise),
        "start": version_json(built.start) if built.start else None,
        "end": version_json(built.end),
        "measured": measured_json(built.result) if built.result else None,
        "measured_reason": built.reason,
        "otherwise": [change_json(change) for change in built.otherwise],
        "beside": [change_json(change) for change in built.beside],
    }


def measured_json(result: Measured) -> dict[str, Any]:
    """The block that `diff` and `dyno compare` share."""
    return {
        "comparable": result.comparable,
        "reasons": list(result.reasons),
        "standard": result.standard,
        "at": result.at,
        "axis": result.axis,
        "axis_unit": AXIS_UNIT[result.axis],
        "sessions": [sheet.name for sheet in result.sheets],
        "pulls": list(result.pulls),
        "scatter": {"relative": result.scatter.s, "dof": finite(result.scatter.dof),
                    "basis": result.scatter.basis},
        "widened_for": [{"reason": p.text, "relative": p.u} for p in result.parts],
        "power": _delta(result.power, "w", result.comparable),
        "torque": _delta(result.torque, "nm", result.comparable) if result.torque else None,
        "torque_reason": result.torque_reason,
        "range": list(result.range),
        "largest_gain": _extreme(result.largest_gain, result.comparable),
        "largest_loss": _extreme(result.largest_loss, result.comparable),
        "curve": {
            "grid": result.grid.tolist(),
            "from_w": result.mean_from.tolist(),
            "to_w": result.mean_to.tolist(),
            "delta_w": result.delta.tolist(),
            "half_width_95_w": result.half_width.tolist(),
        },
    }  # fmt: skip


def _delta(delta: Delta, unit: str, comparable: bool) -> dict[str, Any]:
    """A difference; where the two are not comparable, its verdicts are null."""
    return {
        "unit": {"w": "W", "nm": "N*m"}[unit],
        "peak_from": asdict(delta.peak_from),
        "peak_to": asdict(delta.peak_to),
        "peak_delta": delta.peak_delta,
        "half_width_95": delta.half_width_95,
        "mean_delta": delta.mean_delta,
        "mean_half_width_95": delta.mean_half_width_95,
        "beyond_scatter": delta.beyond_scatter if comparable else None,
        "mean_beyond_scatter": delta.mean_beyond_scatter if comparable else None,
    }


def _extreme(extreme: Extreme | None, comparable: bool) -> dict[str, Any] | None:
    if extreme is None:
        return None
    return {
        "relative": extreme.relative,
        "value_w": extreme.value,
        "at": extreme.at,
        "shown": extreme.shown if comparable else None,
    }
