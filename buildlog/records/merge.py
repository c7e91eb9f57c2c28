"""Field-by-field merge of two records that came from one: what a person would decide at once.

The three sides are leaves by path (`records.paths.leaves`). Values count as equal when they
are physically equal, whatever unit they are written in.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from buildlog.records.paths import Value, same_value

Side = Literal["ours", "theirs"]


@dataclass(frozen=True)
class Conflict:
    """A field that both sides changed to different values; None where a side has none."""

    path: str
    base: Value | None
    ours: Value | None
    theirs: Value | None


@dataclass(frozen=True)
class Merged:
    """The result. `values`: the merged leaves; `taken`: what changes in ours to become them
    (None: removed); `conflicts`: undecided fields, which stand in `values` as ours has them.
    """

    values: dict[str, Value]
    taken: dict[str, Value | None]
    conflicts: tuple[Conflict, ...]


def merge(
    base: Mapping[str, Value],
    ours: Mapping[str, Value],
    theirs: Mapping[str, Value],
    decided: Mapping[str, Side] | None = None,
) -> Merged:
    """Merge two sides that came from `base`; `decided` settles conflicts by path."""
    decided = decided or {}
    taken: dict[str, Value | None] = {}
    conflicts: list[Conflict] = []
    for path in dict.fromkeys((*ours, *theirs, *base)):
        was, mine, other = base.get(path), ours.get(path), theirs.get(path)
        if same_value(mine, other) or same_value(was, other):
            continue
        if same_value(was, mine) or decided.get(path) == "theirs":
            taken[path] = other
        elif path not in decided:
            conflicts.append(Conflict(path, was, mine, other))
    values = {path: value for path, value in ours.items() if path not in taken}
    values |= {path: value for path, value in taken.items() if value is not None}
    return Merged(values, taken, tuple(conflicts))
