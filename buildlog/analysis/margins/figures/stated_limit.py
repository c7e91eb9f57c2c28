"""Where a limit stands in car.toml, checked when the margin's file is imported."""

from __future__ import annotations

from dataclasses import dataclass

from buildlog.records.checked_paths import FieldPath, field, table


@dataclass(frozen=True)
class LimitTable:
    """The `limit` table of an assembly, where its value has this dimension."""

    value: FieldPath
    source: FieldPath
    dimension: str


@dataclass(frozen=True)
class StatedLimit:
    """A limit with a field of its own, else what the `limit` table of its assembly states."""

    path: FieldPath
    general: LimitTable | None = None


def limit_table(assembly: str, dimension: str) -> LimitTable:
    """The `limit` table of an assembly; LookupError if it has none.

    >>> limit_table("exhaust", "pressure").value
    'exhaust.limit.value'
    """
    limit = table(f"{assembly}.limit")
    return LimitTable(limit.field("value"), limit.field("source"), dimension)


def stated_limit(path: str, dimension: str | None = None) -> StatedLimit:
    """The limit at a path; with a dimension, else a general one of the same assembly.

    >>> stated_limit("clutch.rated_torque", "torque").general.value
    'clutch.limit.value'
    """
    own = field(path)
    return StatedLimit(own, limit_table(own.table, dimension) if dimension else None)
