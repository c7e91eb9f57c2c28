"""What a whole shop answers, and from the facts of many cars to tables: what needs attention,
gains by kind, faults by part.

Nothing here reads a ledger or a record, so that a list out of the index starts at once."""

from __future__ import annotations

import statistics
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any


@dataclass(frozen=True)
class Gains:
    """What one kind of change gave: gains as shares of the power before, each of one stage.

    middle: their median. spread: their standard deviation, None for fewer than three. low, high:
    the least and the most. beyond: how many were larger than their scatter.
    """

    kind: str
    count: int
    cars: int
    middle: float
    low: float
    high: float
    spread: float | None
    beyond: int


@dataclass(frozen=True)
class PartFaults:
    """Faults of one part number: how many, in how many cars, and the distances at failure [m].

    unknown: how many have no distance; reasons: why not.
    """

    part: str
    number: str | None
    maker: str | None
    count: int
    open: int
    cars: int
    distances: tuple[float, ...]
    unknown: int
    symptoms: tuple[str, ...]
    reasons: tuple[str, ...] = ()

    @property
    def middle(self) -> float | None:
        """The median distance at failure, of those that are known."""
        return statistics.median(self.distances) if self.distances else None


def attention(facts: Mapping[str, Any]) -> tuple[int, int, str]:
    """A key that puts first what needs attention: unreadable, faults, past a limit, held up, due.

    >>> attention({"problem": "x"}) < attention({"holds_up": [], "due": []})
    True
    """
    if facts.get("problem"):
        return (0, 0, "")
    due = [item["code"] for item in pressing(facts)]
    held = [item["gate"] for item in facts.get("holds_up", ()) if item["gate"] != "hand-back"]
    tightest = facts.get("tightest") or {}
    if "fault" in due:
        rank = 1
    elif tightest.get("state") == "over":
        rank = 2
    elif held:
        rank = 3
    elif due:
        rank = 4
    elif tightest.get("state") == "close":
        rank = 5
    else:
        rank = 6 if facts.get("holds_up") else 7
    return (rank, -len(due) - len(held), facts.get("since") or "")


def pressing(facts: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """What is due, without the ledger's being on one computer only: that is of no one job."""
    return [item for item in facts.get("due", ()) if item["code"] != "copy"]


def gains_table(found: Iterable[tuple[str, Mapping[str, Any]]]) -> list[Gains]:
    """The shop's own experience: gains by kind of change, the largest first.

    `found` holds the ledger's id and a gain (`kind`, `ratio`, `beyond`); those that are not
    like for like are the caller's to leave out.
    """
    tables = []
    for (kind,), lot in _grouped(found, "kind").items():
        shares = [gain["ratio"] - 1 for _, gain in lot]
        tables.append(
            Gains(
                kind, len(lot), len({ledger for ledger, _ in lot}), statistics.median(shares),
                min(shares), max(shares), statistics.stdev(shares) if len(shares) > 2 else None,
                sum(bool(gain["beyond"]) for _, gain in lot),
            )
        )  # fmt: skip
    return sorted(tables, key=lambda one: (-one.middle, one.kind))


def _grouped(
    found: Iterable[tuple[str, Mapping[str, Any]]], *keys: str
) -> dict[tuple[str, ...], list[tuple[str, Mapping[str, Any]]]]:
    """What is alike in these keys, each with its ledger."""
    groups: dict[tuple[str, ...], list[tuple[str, Mapping[str, Any]]]] = {}
    for ledger, facts in found:
        groups.setdefault(tuple(facts[key] or "" for key in keys), []).append((ledger, facts))
    return groups


def faults_table(found: Iterable[tuple[str, Mapping[str, Any]]]) -> list[PartFaults]:
    """Faults by part number, the most frequent first. `found` holds the ledger's id and a fault."""
    tables = []
    for (part, number, maker), lot in _grouped(found, "part", "number", "maker").items():
        run = sorted(fault["distance"] for _, fault in lot if fault["distance"] is not None)
        symptoms = tuple(dict.fromkeys(fault["symptom"] for _, fault in lot))
        without = [fault for _, fault in lot if fault["distance"] is None]
        reasons = tuple(dict.fromkeys(fault["why"] for fault in without if fault["why"]))
        tables.append(
            PartFaults(
                part or "no part named", number or None, maker or None, len(lot),
                sum(fault["open"] for _, fault in lot), len({ledger for ledger, _ in lot}),
                tuple(run), len(without), symptoms, reasons,
            )
        )  # fmt: skip
    return sorted(tables, key=lambda one: (-one.count, one.part, one.number or ""))


Facts = Mapping[str, Any]


@dataclass(frozen=True)
class NotReached:
    """A git server that did not answer, why, and whether what it gave before is shown."""

    name: str
    problem: str
    older: bool


@dataclass(frozen=True, kw_only=True)
class ShopAnswer:
    """What stands beside every answer: the folders asked for, the ledgers that could not be read,
    each with the reason, and the servers that were not reached."""

    folders: tuple[Path, ...] = ()
    unread: tuple[tuple[str, str], ...] = ()
    unreached: tuple[NotReached, ...] = ()

    @property
    def odometers(self) -> list[str | None]:
        """How odometers are written in the cars of the answer."""
        return []


@dataclass(frozen=True, kw_only=True)
class ShopStanding(ShopAnswer):
    """Where each car stands, what needs attention first: its ledger's name, and its facts.

    A car that could not be read has no more than the reason, as its `problem`.
    """

    cars: tuple[tuple[str, Facts], ...]

    @property
    def odometers(self) -> list[str | None]:
        """How odometers are written in the cars of the answer."""
        return [facts["odometer_text"] for _, facts in self.cars if not facts.get("problem")]


@dataclass(frozen=True, kw_only=True)
class ShopDue(ShopStanding):
    """The same cars for what is due. `late`: the first ledger where something presses and the
    working files are at hand."""

    late: Path | None


@dataclass(frozen=True, kw_only=True)
class ShopFound(ShopAnswer):
    """Who has, or ever had, a value: the ledger's name, the car's, from when to when.

    `searched` counts the cars that were looked at for `argument`.
    """

    argument: str
    hits: tuple[tuple[str, str, Facts], ...]
    searched: int


@dataclass(frozen=True, kw_only=True)
class ShopGains(ShopAnswer):
    """What each kind of change gave, the measured stages behind it with their ledger's name, and
    sentences on pairs of measured versions that count for nothing."""

    table: tuple[Gains, ...]
    stages: tuple[tuple[str, Facts], ...]
    left_out: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class ShopFaults(ShopAnswer):
    """Faults by part number."""

    table: tuple[PartFaults, ...]
