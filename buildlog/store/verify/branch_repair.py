"""The branch `main` set anew where it is lost or torn: the newest whole line, with its proof.

Anybody can put a longer line, a newer date or a tag beside a history. So ancestry alone decides: a
line is adopted by itself only if it is the only one, if a list of recorded ids holds its newest
entry, and if it contains every handover, every state another copy is known to hold and every
recorded entry. Everything else needs the whole id, typed by a person, and the next entry carries
`Repaired`, so that `verify` says so for ever.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from buildlog.errors import BuildlogError, ChangedUnderYou, DamagedLedger, InvalidInput
from buildlog.store.disk import atomic
from buildlog.store.disk.atomic import Locked
from buildlog.store.disk.lock import hold
from buildlog.store.git.digest import recorded as sealed_digest
from buildlog.store.git.repo import MAIN, Repo
from buildlog.store.ledger import entries, recorded
from buildlog.store.ledger.entries import Entry
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.ledger.names import HANDOVERS
from buildlog.store.verify import check_history, check_objects

_MOST = 1_000  # lines that are looked at


@dataclass(frozen=True)
class WholeLine:
    """A line of entries that reads back whole. `lacks`: what a proven one would hold."""

    tip: str
    entries: int
    newest: Entry
    listed: bool  # a list of recorded ids holds its newest commit
    lacks: tuple[str, ...]


@dataclass(frozen=True)
class RepairDone:
    """What `repair` found and did. `adopted` is None where nothing was done."""

    old: str  # what the branch held: an id, "torn" or "none"
    lines: tuple[WholeLine, ...]
    adopted: WholeLine | None


def repair(ledger: Ledger, to: str | None = None, *, dry_run: bool = False) -> RepairDone:
    """Set `main` anew. InvalidInput where it is whole, or where only a person can decide."""
    repo = ledger.repo
    if not is_broken(repo):
        raise InvalidInput(
            "nothing is to be repaired: the branch main leads to a whole history",
            hint="buildlog verify says the same",
        )
    old, found = _held(repo), lines(repo)
    if not found:
        raise DamagedLedger(
            "no line of entries here reads back whole",
            hint="restore the ledger from a copy or a handover bundle",
        )
    chosen = _chosen(found, to)
    if dry_run or chosen is None:
        return RepairDone(old, tuple(found), None)
    with hold(repo.git, doing="repairing the ledger") as held:
        if _held(repo) != old:
            raise ChangedUnderYou("the branch was written meanwhile", hint="look again")
        atomic.append(repo.git / recorded.REPAIRED, f"{old} {chosen.tip}\n".encode())
        held.about_to_make(f"{MAIN}.lock")
        atomic.make_folder((repo.git / MAIN).parent)
        draft = Locked(repo.git / MAIN)
        try:
            draft.put(f"{chosen.tip}\n".encode())
        finally:
            draft.drop()
    ledger.settle(always=True)
    return RepairDone(old, tuple(found), chosen)


def is_broken(repo: Repo) -> bool:
    """Whether `main` does not lead to a history that can be walked."""
    try:
        entries.history(repo, repo.tip())
    except BuildlogError:
        return True
    return False


def lines(repo: Repo) -> list[WholeLine]:
    """Every whole line of sealed commits that no other of them follows, longest first."""
    sealed = {
        commit.id.decode(): [parent.decode() for parent in commit.parents]
        for commit in repo.commits()
        if sealed_digest(commit.message) is not None
    }
    followed = {parent for parents in sealed.values() for parent in parents}
    waiting = sorted(sealed.keys() - followed)
    found: list[WholeLine] = []
    tried: set[str] = set()
    while waiting and len(tried) < _MOST:  # behind one that is not whole, the line before it may be
        tip = waiting.pop(0)
        if tip in sealed and tip not in tried:
            tried.add(tip)
            here = list(_whole(repo, tip))
            found += here
            waiting += [] if here else sealed[tip]
    older = {line.tip for line in found for other in found
             if line is not other and line.tip in entries.graph(repo, other.tip)}  # fmt: skip
    found = [line for line in found if line.tip not in older]
    return sorted(found, key=lambda line: (len(line.lacks), not line.listed, -line.entries))


def _whole(repo: Repo, tip: str) -> Iterator[WholeLine]:
    try:
        known, graph = entries.history(repo, tip), entries.graph(repo, tip)
        faults = [
            *check_objects.objects(repo, graph, set()),
            *check_history.chain(repo, known, graph),
            *check_history.entry_rules(repo, known),
            *check_history.beginning(known, graph),
        ]
    except BuildlogError:
        return
    if known and not any(fault.severity == "error" for fault in faults):
        listed = recorded.known(repo.git)
        lacks = tuple(word for name, word in _musts(repo, listed) if name not in graph)
        yield WholeLine(tip, len(known), known[-1], tip in listed, lacks)


def _musts(repo: Repo, listed: frozenset[str]) -> Iterator[tuple[str, str]]:
    """Commits that a proven line contains, each with what it is."""
    for name, held in _readable(repo, HANDOVERS):
        yield held, f"the handover {name} ({held[:8]})"
    for name, held in _readable(repo, "refs/remotes/"):
        yield held, f"what the copy {name} held ({held[:8]})"
    for name in sorted(listed):
        yield name, f"the recorded entry {name[:8]}"


def _readable(repo: Repo, prefix: str) -> Iterator[tuple[str, str]]:
    for name in repo.names():
        if name.startswith(prefix) and not name.endswith("/HEAD"):
            try:
                held = repo.reference(name)
                yield name.removeprefix(prefix), repo.peel(held) if held else "0" * 40
            except BuildlogError:
                yield name.removeprefix(prefix), "0" * 40


def _chosen(found: list[WholeLine], to: str | None) -> WholeLine | None:
    if to is not None:
        chosen = next((line for line in found if line.tip == to.strip().lower()), None)
        if chosen is None:
            raise InvalidInput(
                "no whole line ends with this id", hint="type all 40 digits of one that is shown"
            )
        return chosen
    only = found[0] if len(found) == 1 else None
    return only if only and only.listed and not only.lacks else None


def _held(repo: Repo) -> str:
    try:
        return repo.reference(MAIN) or "none"
    except BuildlogError:
        return "torn"
