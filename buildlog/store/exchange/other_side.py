"""What both kinds of other side of a `sync` are asked for: names, objects we lack, new states."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Protocol

from dulwich.objects import ShaFile

from buildlog.store.git.repo import MAIN, Repo

Move = tuple[str | None, str]  # what a name holds, what it becomes
Moves = Mapping[str, Move]  # by whole names
MOST_NAMES = 5_000


@dataclass(frozen=True)
class RemoteOffer:
    """The other side's names with what they hold, and the objects behind them that we lack."""

    names: Mapping[str, str] = field(default_factory=dict)
    objects: tuple[ShaFile, ...] = ()

    @property
    def tip(self) -> str | None:
        return self.names.get(MAIN)


class OtherSide(Protocol):
    """What both kinds of other side can do."""

    def settle(self) -> None:
        """Finish what an earlier sync that was cut short left half done there."""

    def fetch(self, ours: Repo, prefixes: tuple[str, ...]) -> RemoteOffer:
        """`main` and the names below these prefixes, and what we lack of what they lead to."""

    def push(self, ours: Repo, moves: Moves) -> dict[str, str]:
        """Set names there, each if it still is what we saw; those that were not set, and why.

        If `main` is among them and has moved on, nothing at all is set.
        """
