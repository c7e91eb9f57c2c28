"""Where each value of a configuration comes from: the version that gave it."""

from __future__ import annotations

from collections.abc import Sequence

from buildlog.analysis.car.version import Version
from buildlog.records.paths import Value, leaves, same_value


def origins(history: Sequence[Version]) -> dict[str, Version]:
    """For each path of the newest version, the version in which it got its present value."""
    found: dict[str, Version] = {}
    values: dict[str, Value] = {}
    previous = None
    for version in history:
        if version.configuration is previous:
            continue
        previous = version.configuration
        now = leaves(previous)
        found = {
            path: found[path] if path in values and same_value(values[path], value) else version
            for path, value in now.items()
        }
        values = now
    return found


def life(history: Sequence[Version], path: str) -> list[tuple[Version, Value | None]]:
    """Each value a path has had, with the version that brought it; None where it was removed."""
    course: list[tuple[Version, Value | None]] = []
    for version in history:
        value = leaves(version.configuration).get(path)
        before = course[-1][1] if course else None
        if (not course and value is not None) or (course and not same_value(before, value)):
            course.append((version, value))
    return course
