"""What is in the car, for other programs: fields, parts, one field's life."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from buildlog.records.paths import Value, leaves
from buildlog.report.as_json.json_parts import value_json, version_json
from buildlog.report.numbers import kilometres

if TYPE_CHECKING:
    from buildlog.analysis.car.version import Version
    from buildlog.analysis.workshop.partlife import PartLife


def show_json(version: Version, since: Mapping[str, Version]) -> dict[str, Any]:
    """The body of `show --json`: every field with the version that gave it."""
    fields = {
        path: {
            **(value_json(value, path) or {}),
            "since": version_json(since[path]) if path in since else None,
            "found": since[path].kind == "found" if path in since else None,
        }
        for path, value in leaves(version.configuration).items()
    }
    return {"version": version_json(version), "fields": fields}


def life_json(path: str, course: Iterable[tuple[Version, Value | None]]) -> dict[str, Any]:
    """The body of `show --at FIELD --json`."""
    steps = [
        {"version": version_json(version), "value": value_json(value, path)}
        for version, value in course
    ]
    return {"path": path, "life": steps}


def parts_json(version: Version, parts: Iterable[PartLife]) -> dict[str, Any]:
    """The body of `show --parts --json`."""
    return {"version": version_json(version), "parts": [part_json(life) for life in parts]}


def part_json(life: PartLife) -> dict[str, Any]:
    """One part for programs; distances in km."""
    return {
        "path": life.path,
        "maker": life.identity.maker,
        "number": life.identity.number,
        "serial": life.identity.serial,
        "kind": life.identity.kind,
        "condition": life.condition,
        "since": version_json(life.fitted) if life.fitted else None,
        "before": None if life.fitted else version_json(life.first_seen),
        "fitted_on": life.fitted_on.isoformat() if life.fitted_on else None,
        "by": life.by,
        "car_at_fitting_km": kilometres(life.car_at_fitting),
        "distance_km": kilometres(life.distance),
        "distance_unknown": life.why_unknown,
        "basis": life.basis,
        "break_in_km": kilometres(life.break_in),
        "break_in_left_km": kilometres(life.break_in_left),
        "break_in_unknown": life.break_in_why,
    }
