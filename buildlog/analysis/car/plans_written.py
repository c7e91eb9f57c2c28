"""What was done with a plan: made, edited, adopted, dropped."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from buildlog.analysis.car.written import Written
from buildlog.records.paths import Value


@dataclass(frozen=True)
class PlanMade:
    """A new plan: the version it was made from, and the entry that this rests on."""

    name: str
    origin: str
    number: int
    entry: str


@dataclass(frozen=True)
class PlanSet:
    """Fields of a plan that are physically different now: path, was, is."""

    name: str
    changed: tuple[tuple[str, Value | None, Value | None], ...]


@dataclass(frozen=True)
class PlanAdopted(Written):
    """Fields of the working car.toml that a plan gave it; None: removed."""

    name: str
    taken: Mapping[str, Value | None]


@dataclass(frozen=True)
class PlanDropped:
    """A plan that is gone, and the commit it was at."""

    name: str
    commit: str
