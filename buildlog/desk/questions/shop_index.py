"""From many ledgers to the facts of the shop, each ledger read only when its head has moved."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

from buildlog.desk.snapshot.result_cache import program
from buildlog.errors import BuildlogError, DamagedLedger, DiskError
from buildlog.records.recorded_peak import recorded_peak
from buildlog.store.disk.index_db import Kept
from buildlog.store.exchange import fleet

if TYPE_CHECKING:
    from buildlog.analysis.prediction.learned import MeasuredPoint
    from buildlog.desk.snapshot.snapshot import Snapshot

STANDING, SPANS, GAINS, FAULTS = "standing", "spans", "gains", "faults"
_STAGE, _COPIES = "stage", "copies"
_WORTH_ANOTHER_PROCESS = 24  # ledgers; of gains a quarter, since sheets and predictions are made
_AT_ONCE = 16  # ledgers in one piece of work

Facts = dict[str, Any]
Told = Callable[[int], None]


@dataclass(frozen=True)
class ShopCar:
    """One ledger of the shop: where it lies, its head, and what was asked of it.

    `facts` is None with the reason in `problem` where the ledger cannot be read or is empty.
    """

    place: Path
    head: str | None
    facts: Any
    problem: str | None = None


def cars(places: Sequence[Path], what: str, kept: Kept, told: Told | None = None) -> list[ShopCar]:
    """What is asked of every ledger, in the order given; one that cannot be read says why."""
    heads = [_head(place) for place in places]
    known = kept.get(_kind(what), [head for head, _ in heads if head])
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


def _kind(what: str) -> str:
    return f"{what}/{program()}"


def _worked_out(
    missing: Sequence[Path], what: str, kept: Kept, told: Told | None
) -> Iterator[ShopCar]:
    """The facts of ledgers that are not kept yet; they are kept piece by piece."""
    weight = 4 if what == GAINS else 1
    size = max(_AT_ONCE // weight, 1)
    pieces = [missing[i : i + size] for i in range(0, len(missing), size)]
    for found in _in_pieces(pieces, what, kept, weight * len(missing)):
        kept.put(_kind(what), {car.head: car.facts for car in found if car.head})
        yield from found
        if told:
            told(len(found))


def _in_pieces(
    pieces: Sequence[Sequence[Path]], what: str, kept: Kept, count: int
) -> Iterator[list[ShopCar]]:
    processes = min(os.cpu_count() or 1, 8, len(pieces))
    if count < _WORTH_ANOTHER_PROCESS or processes < 2:
        for piece in pieces:
            yield _piece(piece, what, kept.path)
        return
    from concurrent.futures import ProcessPoolExecutor, as_completed
    from multiprocessing import get_context

    with ProcessPoolExecutor(processes, mp_context=get_context("spawn")) as pool:
        jobs = [pool.submit(_piece, piece, what, kept.path) for piece in pieces]
        for job in as_completed(jobs):
            yield job.result()


def _piece(piece: Sequence[Path], what: str, index: Path) -> list[ShopCar]:
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.store.ledger.ledger import Ledger

    found = []
    with Kept(index) as kept:
        for place in piece:
            try:
                with Ledger.open(place) as ledger:
                    book = Snapshot(ledger, recorded_only=True)
                    facts = _READERS[what](book, kept) if book.entries else None
                    found.append(ShopCar(place, book.head, facts))
            except BuildlogError as error:
                where = f"{error.where}: " if error.where else ""
                found.append(ShopCar(place, None, None, f"{where}{error.what}"))
    return found


# One ledger


def _standing(book: Snapshot, kept: Kept) -> Facts:
    from buildlog.analysis.answers.shop_facts import standing
    from buildlog.desk.questions.limits import Margining

    margins = Margining(book).rows(book.history[-1])
    facts = standing(book.history, book.papers, margins, _last_power(book))
    facts["due"] += [*_unsigned(book)]
    return facts


def _last_power(book: Snapshot) -> tuple[float, str] | None:
    for entry in reversed(book.entries):
        if (found := recorded_peak(entry.measured)) is not None:
            return found.power_w, entry.work_date.isoformat()
    return None


def _unsigned(book: Snapshot) -> Iterator[Facts]:
    """The newest entry, where this ledger has keys in use and none of them signed it."""
    from buildlog.store.ledger import entries
    from buildlog.store.trust import signatures
    from buildlog.store.trust.keyring import REGISTER

    newest, repo = book.entries[-1], book.ledger.repo
    if book.ledger.content_id(newest, REGISTER) is None:
        return
    found = signatures.judge(repo, entries.graph(repo, newest.id), newest.id, {}, {})
    signed = found.commits.get(newest.id)
    if found.ring.active and (signed is None or signed.state != "signed"):
        words = signed.words if signed else "not signed"
        yield {"code": "unsigned", "what": f"entry {newest.number}: {words}", "left": None,
               "since": newest.work_date.isoformat()}  # fmt: skip


def _spans(book: Snapshot, kept: Kept) -> list[Facts]:
    from buildlog.analysis.answers.shop_facts import spans

    return spans(book.history)


def _faults(book: Snapshot, kept: Kept) -> Facts:
    from buildlog.analysis.answers.shop_facts import faults

    return {"id": book.ledger.id, "faults": faults(book.history, book.papers)}


def _gains(book: Snapshot, kept: Kept) -> Facts:
    """Each pair of versions measured one after the other; and those that count for nothing."""
    from buildlog.desk.questions.predict import Predictor

    predictor = Predictor(book)
    found, left_out = [], []
    for one, other in pairwise(book.measured_versions):
        key = _key_of_stage(book, one.number, other.number)
        stage = kept.get(_kind(_STAGE), [key]).get(key)
        if stage is None:
            stage = _stage(predictor, one, other)
            kept.put(_kind(_STAGE), {key: stage})
        name = f"{one.name} to {other.name}"
        if stage.get("problem"):
            left_out.append({"name": name, "problem": stage["problem"]})
        else:
            found.append({"before": one.name, "after": other.name, **stage})
    return {"id": book.ledger.id, "gains": found, "left_out": left_out}


def _key_of_stage(book: Snapshot, one: int, other: int) -> str:
    """What a measured stage is worked out from: every session's files, cars, priors."""
    newest = book.entries[-1]
    seen = [
        f"{path} {blob}"
        for path, blob in book.ledger.files(newest).items()
        if path.startswith("dyno/") or path == "priors.toml"
    ]
    ids = [str(book.ledger.content_id(book.entries[n - 1], "car.toml")) for n in (one, other)]
    return hashlib.sha256("\n".join([*seen, *ids, f"{one} {other}"]).encode()).hexdigest()


def _stage(predictor: Any, one: Any, other: Any) -> Facts:
    from buildlog.analysis.answers.shop_facts import kind_of_change
    from buildlog.desk.questions.visits import compared

    try:
        before, after = predictor.point(one), predictor.point(other)
        if before is None or after is None:
            return {"problem": "only stated values, no curve"}
        if before.sheet.name == after.sheet.name:
            return {"problem": "both were measured in one session"}
        sides = (before.sheet, before.group), (after.sheet, after.group)
        found = compared(predictor.book, *sides)
    except (DamagedLedger, DiskError):
        raise  # another copy of the ledger may be whole
    except BuildlogError as error:
        return {"problem": error.what}
    if isinstance(found, str):
        return {"problem": found}
    if not found.comparable:
        return {"problem": f"not like for like ({'; '.join(found.reasons)})"}
    kind = kind_of_change(one.configuration, other.configuration)
    if not kind:
        return {"problem": "nothing changed that can move power"}
    power = found.power
    return {
        "kind": kind,
        "day": after.sheet.session.date.isoformat(),
        "from_w": power.peak_from.value,
        "to_w": power.peak_to.value,
        "ratio": power.peak_to.value / power.peak_from.value,
        "half_w": power.half_width_95,
        "beyond": bool(power.beyond_scatter),
        **_band(predictor, before, after),
    }


def _band(predictor: Any, before: MeasuredPoint, after: MeasuredPoint) -> Facts:
    """What the stage was predicted to give, as shares of the power before; or why not."""
    from buildlog.analysis.prediction.learned import past_stage

    stage = past_stage(before, after, predictor.book.priors, predictor.ledger_id)
    if isinstance(stage, str):
        return {"predicted": None, "why_not": stage}
    result = stage.result
    return {"predicted": [result.p10, result.p50, result.p90], "why_not": None}


_READERS: dict[str, Callable[[Snapshot, Kept], Any]] = {
    STANDING: _standing,
    SPANS: _spans,
    GAINS: _gains,
    FAULTS: _faults,
}
