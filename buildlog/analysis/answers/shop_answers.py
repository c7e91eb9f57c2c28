"""What a whole shop answers. Nothing here reads a ledger or a record, so that it starts at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from buildlog.analysis.answers.shop_tables import Gains, PartFaults

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
