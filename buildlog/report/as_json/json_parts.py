"""Pieces of JSON that several commands print: versions, values, changes, findings."""

from __future__ import annotations

import datetime as dt
from typing import Any

from buildlog.analysis.car.changes import Change
from buildlog.analysis.car.version import Version
from buildlog.findings import Finding
from buildlog.records.checked_paths import field
from buildlog.records.paths import Value
from buildlog.report.numbers import kilometres
from buildlog.units import Quantity

VIN = field("car.vin")


def shown_vin(vin: str) -> str:
    """A VIN stands full in car.toml and the booklet only: its last six digits elsewhere."""
    return f"...{vin[-6:]}"


def version_json(version: Version) -> dict[str, Any]:
    """Which version, when, at what odometer."""
    return {
        "entry": version.number or None,
        "id": version.id or None,
        "name": version.name,
        "kind": version.kind,
        "stage": version.stage,
        "date": version.date.isoformat() if version.date else None,
        "odometer_km": kilometres(version.odometer),
    }


def change_json(change: Change) -> dict[str, Any]:
    """One field that differs."""
    return {
        "path": change.path,
        "assembly": change.assembly,
        "kind": change.kind,
        "made": change.made,
        "from": value_json(change.old, change.path),
        "to": value_json(change.new, change.path),
    }


def value_json(value: Value | None, path: str = "") -> dict[str, Any] | None:
    """A value with its text, its SI number and its unit; a VIN by its end."""
    if value is None:
        return None
    if path == VIN:
        return {"text": shown_vin(str(value)), "si": None, "unit": None}
    if isinstance(value, Quantity):
        return {"text": value.text, "si": value.si, "unit": value.unit.text}
    if isinstance(value, tuple):
        plain = [v.text if isinstance(v, Quantity) else v for v in value]
        return {"text": ", ".join(map(str, plain)), "si": _numbers(value), "unit": None}
    if isinstance(value, bool):
        return {"text": "true" if value else "false", "si": None, "unit": None}
    if isinstance(value, int | float):
        return {"text": f"{value:.12g}", "si": float(value), "unit": None}
    if isinstance(value, dt.date | dt.time):
        return {"text": value.isoformat(), "si": None, "unit": None}
    return {"text": str(value), "si": None, "unit": None}


def _numbers(value: tuple[Any, ...]) -> list[float] | None:
    out = [v.si if isinstance(v, Quantity) else v for v in value]
    return [float(v) for v in out] if all(isinstance(v, int | float) for v in out) else None


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
