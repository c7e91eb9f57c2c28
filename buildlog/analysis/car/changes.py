"""What changed mechanically between two configurations, and which version gave each value."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from buildlog.analysis.car.version import Version
from buildlog.findings import Finding
from buildlog.records.car.configuration import Configuration
from buildlog.records.checked_paths import table
from buildlog.records.field_traits import moves
from buildlog.records.fields.traits import PREDICTION, UNMODELLED
from buildlog.records.paths import (
    Value,
    assembly,
    carried,
    differences,
    leaves,
    same_value,
    words,
)

_NEEDLE = PREDICTION | UNMODELLED
# What is declared of the fuel in the tank is no change of the car.
_DECLARED = table("fuel.evaporation")


@dataclass(frozen=True)
class Change:
    """One field that differs. `made` is False for a change that was found, not made."""

    path: str
    kind: Literal["added", "removed", "changed"]
    old: Value | None
    new: Value | None
    made: bool = True

    @property
    def assembly(self) -> str:
        """The table it belongs to."""
        return assembly(self.path)

    @property
    def words(self) -> str:
        """The field below its assembly, in words."""
        return words(self.path)


def changes(old: Configuration, new: Configuration, made: bool = True) -> list[Change]:
    """Every field that differs physically, in the order of car.toml."""
    return [
        Change(path, kind_of(before, after), before, after, made)
        for path, before, after in differences(old, new)
    ]


def kind_of(old: Value | None, new: Value | None) -> Literal["added", "removed", "changed"]:
    """What became of a field that differs."""
    if old is None:
        return "added"
    return "removed" if new is None else "changed"


def unlike(old: Configuration, new: Configuration) -> list[str]:
    """Paths that differ physically, and those of which this program cannot say it because a
    newer one wrote them: none of these is ever equal here."""
    paths = [path for path, _, _ in differences(old, new)]
    return list(dict.fromkeys([*paths, *carried(old), *carried(new)]))


def newer_fields(configuration: Configuration) -> Finding | None:
    """What a newer buildlog wrote into a car.toml, and what that means here."""
    paths = list(carried(configuration))
    if not paths:
        return None
    few = ", ".join(paths[:4]) + (", ..." if len(paths) > 4 else "")
    tables = dict.fromkeys(assembly(path) for path in paths)
    text = (f"written by a newer buildlog: {few}; here nothing is predicted, and no margin of "
            f"{', '.join(tables)} is worked out")  # fmt: skip
    return Finding("newer", "caution", text, tuple(paths), "car.toml", "update buildlog")


def power_neutral(path: str) -> bool:
    """Whether a change of this field leaves the measured power what it was."""
    return not moves(path) & _NEEDLE or path.startswith(f"{_DECLARED}.")


def physically_equal(old: Configuration, new: Configuration) -> bool:
    """Whether no field differs physically, however it is written; False where nobody can say."""
    return not unlike(old, new)


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
