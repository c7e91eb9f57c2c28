"""Where each value of a configuration comes from: the version that gave it."""

from __future__ import annotations

from collections.abc import Sequence

from buildlog.analysis.version import Version
from buildlog.records.paths import Value, leaves, same_value


def origins(history: Sequence[Version]) -> dict[str, Version]:
    """For each path of the newest version, the version in which it got its present value."""
    found: dict[str, Version] = {}
    last: dict[str, Value] = {}
    previous = None
    for version in history:
        if previous is not None and version.configuration is previous.configuration:
            continue
        values = leaves(version.configuration)
        for path, value in values.items():
            if path not in last or not same_value(last[path], value):
                found[path] = version
        for path in set(last) - set(values):
            found.pop(path, None)
        last, previous = values, version
    return {path: version for path, version in found.items() if path in last}


def life(history: Sequence[Version], path: str) -> list[tuple[Version, Value | None]]:
    """Each value a path has had, with the version that brought it; None where it was removed."""
    course: list[tuple[Version, Value | None]] = []
    for version in history:
        value = leaves(version.configuration).get(path)
        before = course[-1][1] if course else None
        if (not course and value is not None) or (course and not same_value(before, value)):
            course.append((version, value))
    return course
