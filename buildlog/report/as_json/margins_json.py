"""Margins and headroom as the JSON that other programs rely on: SI numbers with their unit."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from buildlog.analysis.answers.look_answers import HeadroomAnswer, MarginsAnswer
from buildlog.analysis.margins.figures.margin_car import Subject
from buildlog.analysis.margins.figures.margin_rows import Band, Row, Rule
from buildlog.analysis.margins.margin_changes import MarginChanges
from buildlog.report.as_json.json_parts import finding_json, version_json
from buildlog.report.numbers import finite


def margins_json(found: MarginsAnswer) -> dict[str, Any]:
    """The body of `margins --json`."""
    return {
        "version": version_json(found.version),
        "power": power_json(found.subject),
        "margins": [{"name": one.name, **margin_json(one)} for one in found.rows],
        "findings": [finding_json(one) for one in found.findings],
    }


def power_json(subject: Subject) -> dict[str, Any] | None:
    """The power that everything rests on."""
    run = subject.run
    if run is None:
        return None
    return {
        "at": "crank" if run.at_crank else "wheels",
        "power_w": _band(run.power),
        "engine_speed_rad_s": run.omega,
        "basis": run.basis,
        "source": run.source,
    }


def margin_json(one: Row) -> dict[str, Any]:
    """One margin; `margin` is a share and null where a ratio has no meaning, `left` is then a
    distance in `unit`. An end that is infinite is null."""
    left, ratio = _band(one.margin.left), one.kind.rule is Rule.RATIO
    return {
        "demand": _band(one.margin.demand),
        "capacity": _band(one.margin.capacity),
        "unit": one.kind.unit,
        "margin": left if ratio else None,
        "left": None if ratio else left,
        "rule": one.kind.rule.value,
        "caution": one.kind.caution,
        "state": one.state.value,
        "band_reaches_past": one.margin.reaches_past,
        "basis": one.basis,
        "demand_basis": one.demand.basis,
        "capacity_basis": one.capacity.basis,
        "source": "; ".join(one.sources),
        "formula": one.kind.formula,
        "missing": list(one.ask),
        "alternative": _band(one.alternative.band) if one.alternative else None,
        "information": one.kind.information,
        "note": one.note,
        "worse_case": one.case,
    }


def changes_json(found: MarginChanges) -> list[dict[str, Any]]:
    """The block of a diff."""
    return [
        {
            "name": one.name,
            "before": margin_json(one.before) if one.before else None,
            "after": margin_json(one.after) if one.after else None,
            "tighter": one.tighter,
        }
        for one in found.changes
    ]


def headroom_json(answer: HeadroomAnswer) -> dict[str, Any]:
    """The body of `headroom --json`."""
    found = answer.room
    return {
        "version": version_json(answer.version),
        "power": power_json(found.subject),
        "wheel_power_w": found.power,
        "boost_gauge_pa": found.boost,
        "limits": [
            {
                "name": one.name,
                "wheel_power_w": asdict(one.power),
                "boost_gauge_pa": asdict(one.boost) if one.boost else None,
                "basis": one.row.basis,
                "source": "; ".join(one.row.sources),
            }
            for one in found.limits
        ],
        "reached_now": [one.name for one in found.over],
        "not_reached": [one.name for one in found.not_reached],
        "independent": [{"name": o.name, **margin_json(o)} for o in found.independent],
        "unknown": [{"name": o.name, "missing": list(o.ask)} for o in found.unknown],
    }


def _band(band: Band | None) -> dict[str, float | None] | None:
    if band is None:
        return None
    ends = (("p10", band.p10), ("p50", band.p50), ("p90", band.p90))
    return {name: finite(end) for name, end in ends}
