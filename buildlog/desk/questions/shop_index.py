"""One question to many ledgers, each of them read only when its head has moved."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from buildlog.desk.snapshot.result_cache import program
from buildlog.errors import BuildlogError, NotFound
from buildlog.store.disk.index_db import Kept
from buildlog.store.exchange import fleet

if TYPE_CHECKING:
    from buildlog.desk.snapshot.snapshot import Snapshot

_COPIES = "copies"
_WORTH_ANOTHER_PROCESS = 24  # ledgers of weight 1
_AT_ONCE = 6  # ledgers in one piece of work

Facts = dict[str, Any]
Told = Callable[[int], None]


@dataclass(frozen=True)
class ShopQuestion:
    """What is asked of every ledger, by a name under which answers are kept: whatever they hang on
    beside the ledger's head stands in it. `read` is passed to other processes."""

    name: str
    read: Callable[[Snapshot, Kept], Any]
    weight: int = 1


@dataclass(frozen=True)
class ShopCar:
    """One ledger of the shop: where it lies, its head, and what was asked of it.

    `facts` is None with the reason in `problem` where the ledger cannot be read or is empty.
    """

    place: Path
    head: str | None
    facts: Any
    problem: str | None = None


def ledgers_in(folder: Path) -> list[Path]:
    """The ledgers right below a folder; NotFound where there is none."""
    if not folder.is_dir():
        raise NotFound(f"the folder {folder} does not exist", hint="look at --shop")
    found = sorted(path.parent for path in folder.glob("*/car.toml"))
    places = [place for place in found if (place / ".git").exists()]
    if not places:
        raise NotFound(f"no ledger lies in {folder}", hint="name the folder that holds the cars")
    return places


def cars(
    places: Sequence[Path], what: ShopQuestion, kept: Kept, told: Told | None = None
) -> list[ShopCar]:
    """What is asked of every ledger, in the order given; one that cannot be read says why."""
    heads = [_head(place) for place in places]
    known = kept.get(kind(what.name), [head for head, _ in heads if head])
    missing = [
        place for place, (head, _) in zip(places, heads, strict=True) if head and head not in known
    ]
    if told:
        told(len(places) - len(missing))
    fresh = {car.place: car for car in _worked_out(missing, what, kept, told)}
    return [
        fresh.get(place) or ShopCar(place, head, known.get(head or ""), why)
        for place, (head, why) in zip(places, heads, strict=True)
    ]


def known(places: Sequence[Path], what: ShopQuestion, kept: Kept) -> list[ShopCar]:
    """The same, of those only that are kept or have nothing to be read; no ledger is opened."""
    heads = [_head(place) for place in places]
    found = kept.get(kind(what.name), [head for head, _ in heads if head])
    return [
        ShopCar(place, head, found.get(head or ""), why)
        for place, (head, why) in zip(places, heads, strict=True)
        if why or head in found
    ]


def on_another_copy(car: ShopCar, kept: Kept) -> bool | None:
    """Whether another copy was last known to hold the newest entry; None where none is known."""
    from buildlog.store.git.repo import Repo
    from buildlog.store.ledger import copies

    tips = copies.known(car.place)
    if not tips or car.head is None or car.head in tips:
        return bool(tips) or None
    key = " ".join([car.head, *sorted(tips)])
    found: bool | None = kept.get(_COPIES, [key]).get(key)
    if found is None:
        try:
            with Repo(car.place) as repo:
                found = copies.hold_it(repo, tips, car.head)
        except BuildlogError:
            return False
        kept.put(_COPIES, {key: found})
    return found


def each_once(found: Sequence[ShopCar]) -> list[ShopCar | None]:
    """The cars with copies of one ledger left out (None), so that no result counts twice."""
    seen: set[str] = set()
    out: list[ShopCar | None] = []
    for car in found:
        own = car.facts["id"] if car.facts else None
        out.append(None if own is None or own in seen else car)
        seen |= {own} if own else set()
    return out


def _head(place: Path) -> tuple[str | None, str | None]:
    try:
        head = fleet.tip(place)
    except BuildlogError as error:
        return None, error.what
    return head, None if head else "nothing is recorded yet"


def kind(what: str) -> str:
    """Under what a thing is kept: by its name and by the program that works it out."""
    return f"{what}/{program()}"


def _worked_out(
    missing: Sequence[Path], what: ShopQuestion, kept: Kept, told: Told | None
) -> Iterator[ShopCar]:
    """The facts of ledgers that are not kept yet; they are kept piece by piece."""
    size = max(_AT_ONCE // what.weight, 1)
    pieces = [missing[i : i + size] for i in range(0, len(missing), size)]
    for found in _in_pieces(pieces, what, kept, what.weight * len(missing)):
        kept.put(kind(what.name), {car.head: car.facts for car in found if car.head})
        yield from found
        if told:
            told(len(found))


def _in_pieces(
    pieces: Sequence[Sequence[Path]], what: ShopQuestion, kept: Kept, count: int
) -> Iterator[list[ShopCar]]:
    processes = min(os.cpu_count() or 1, 8, len(pieces))
    index = kept.path if kept.usable else None
    if count < _WORTH_ANOTHER_PROCESS or processes < 2:
        for piece in pieces:
            yield _piece(piece, what, index)
        return
    from concurrent.futures import ProcessPoolExecutor, as_completed
    from multiprocessing import get_context

    pool = ProcessPoolExecutor(
        processes, get_context("spawn"), _left_to_the_parent, (signal.SIGINT,)
    )
    try:
        jobs = [pool.submit(_piece, piece, what, index) for piece in pieces]
        for job in as_completed(jobs):
            yield job.result()
    finally:  # who waits no longer does not wait for the pieces that nobody began
        pool.shutdown(cancel_futures=True)


def _left_to_the_parent(number: int) -> None:
    """A signal that the terminal sends to all is answered by the process that began them."""
    signal.signal(number, signal.SIG_IGN)


def _piece(piece: Sequence[Path], what: ShopQuestion, index: Path | None) -> list[ShopCar]:
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.store.ledger.ledger import Ledger

    found = []
    with Kept(index) if index else Kept.nothing() as kept:
        for place in piece:
            try:
                with Ledger.open(place) as ledger:
                    book = Snapshot(ledger, recorded_only=True)
                    facts = what.read(book, kept) if book.entries else None
                    found.append(ShopCar(place, book.head, facts))
            except BuildlogError as error:
                where = f"{error.where}: " if error.where else ""
                found.append(ShopCar(place, None, None, f"{where}{error.what}"))
    return found
