"""What comes due in one ledger, and in all of a shop's."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from buildlog.analysis.workshop.due_book import DueState, due_states
from buildlog.desk.snapshot.opening import recorded
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import BuildlogError, NotFound
from buildlog.store.exchange import fleet
from buildlog.store.ledger.ledger import Ledger


def comes_due(book: Snapshot) -> list[DueState]:
    """Everything that comes due, by the working files, the earliest day first."""
    return due_states(book.until_now, book.papers)


@dataclass(frozen=True)
class CarDue:
    """A car of the shop by name and ledger id, with what comes due in it."""

    ledger: str
    name: str
    states: tuple[DueState, ...]


def shop_due(folders: Sequence[Path]) -> tuple[list[CarDue], list[str]]:
    """What comes due in each car below the folders; sentences on ledgers that cannot be read."""
    found: list[CarDue] = []
    unread: list[str] = []
    places = fleet.below(tuple(folders))
    if not places:
        where = ", ".join(map(str, folders))
        raise NotFound(f"no ledger lies in {where}", hint="name the folder that holds the cars")
    for place in places:
        try:
            with Ledger.open(place) as ledger:
                book = recorded(ledger)
                states = due_states(book.history, book.papers)
                name = book.history[-1].configuration.car.name
                found.append(CarDue(ledger.id or "", name, tuple(states)))
        except BuildlogError as error:
            unread.append(f"{place.name}: {error.what}")
    return list({one.ledger: one for one in found}.values()), unread
