"""Two copies of one ledger brought to the same state; both sides' history is kept.

Their entries are judged like our own before any of it is written. Where both sides went
on, a merge joins the two lines: the same two lines give the same merge on every computer.
Nothing is ever overwritten or forced: `main` only moves forward, here and there.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from dulwich.objects import Commit, Tree

from buildlog.errors import (
    BuildlogError,
    ChangedUnderYou,
    DiskError,
    InvalidInput,
    NotFound,
    TrustError,
)
from buildlog.findings import Finding
from buildlog.records.merge import Side
from buildlog.records.paths import Value, same_value
from buildlog.store.exchange import exchange
from buildlog.store.exchange.exchange import Exchange
from buildlog.store.exchange.remote import Move, OtherSide, RemoteOffer, held_names, put
from buildlog.store.git import ledger_files, ordering
from buildlog.store.git.repo import MAIN, Repo
from buildlog.store.join import filemerge, joining
from buildlog.store.join.joining import Clash, Graph, Join
from buildlog.store.ledger import append, entries
from buildlog.store.ledger.entries import Entry
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.trust import signatures
from buildlog.store.verify import check_history, check_merges

State = Literal["equal", "sent", "received", "joined"]
_TRIES = 6
_NAME = "joined lines"  # of no shop, so that both sides make the same merge


@dataclass(frozen=True)
class Saying:
    """One side of a clash: what it says, and the entry that said so."""

    value: Value | None
    entry: Entry | None


@dataclass(frozen=True)
class SyncQuestion:
    """Something both sides changed differently, for a person to decide."""

    name: str  # a field of car.toml, FILE:FIELD, or the path of a file
    was: Value | None
    ours: Saying
    theirs: Saying
    is_file: bool


Decide = Callable[[Sequence[SyncQuestion]], Mapping[str, Side]]


@dataclass(frozen=True)
class Synced:
    """What a sync did, or with `dry_run` would do."""

    state: State
    received: tuple[Entry, ...] = ()
    sent: tuple[Entry, ...] = ()
    tip: str | None = None
    renamed: Mapping[str, str] = field(default_factory=dict)
    decided: Mapping[str, Side] = field(default_factory=dict)
    names: Exchange = field(default_factory=Exchange)
    comments_left: tuple[str, ...] = ()  # comments that stay in their side's entry only
    plans_kept: tuple[str, ...] = ()  # our plans, where none were to be exchanged


class _Again(Exception):
    """Either side moved meanwhile, or the other one did not take what we sent, and why.

    `done` is what ours has got already.
    """

    def __init__(self, done: Synced | None = None, tip: str | None = None, why: str = "") -> None:
        super().__init__(why)
        self.done, self.seen = done, (tip, why)


@dataclass
class _Meeting:
    """Both sides while they are brought together."""

    ledger: Ledger
    other: OtherSide
    ours: str | None
    offer: RemoteOffer
    prefixes: tuple[str, ...]
    dry_run: bool

    @property
    def theirs(self) -> str | None:
        return self.offer.tip


def sync(
    ledger: Ledger, other: OtherSide, decide: Decide, *, dry_run: bool = False, plans: bool = False
) -> Synced:
    """Bring both sides to one state. ChangedUnderYou when something stays undecided.

    `plans`: exchange plans, too. They carry prices and are for the shop's own copies only.
    """
    if not dry_run:
        ledger.settle()
        other.settle()
    seen, earlier, prefixes = None, Synced("equal"), exchange.prefixes(plans=plans)
    for _ in range(_TRIES):
        try:
            ours, offer = ledger.repo.tip(), other.fetch(ledger.repo, prefixes)
            both = _Meeting(ledger, other, ours, offer, prefixes, dry_run)
            return _since(earlier, _met(both, decide))
        except _Again as again:
            if again.seen == seen and again.seen[1]:
                raise DiskError(
                    f"the other side does not take it: {again.seen[1]}",
                    hint="ask who keeps it; ours is complete, nothing was lost",
                ) from None
            seen = again.seen
            earlier = _since(earlier, again.done) if again.done else earlier
    raise ChangedUnderYou(
        "the other side is being written to all the time", hint="do it again in a moment"
    )


def _since(earlier: Synced, done: Synced) -> Synced:
    """What was done in all, where the other side moved on between two turns."""
    if not earlier.received:
        return done
    return replace(
        done,
        state="joined" if done.sent else "received",
        received=(*earlier.received, *done.received),
        renamed={**earlier.renamed, **done.renamed},
        decided={**earlier.decided, **done.decided},
        comments_left=(*earlier.comments_left, *done.comments_left),
    )


def _met(both: _Meeting, decide: Decide) -> Synced:
    """Both sides brought together once; what was lent to our repository is given back."""
    both.ledger.repo.lend(both.offer.objects)
    try:
        return _settled(both, _joined(both.ledger.repo, both.ours, both.theirs, decide))
    finally:
        both.ledger.repo.lent.clear()


def _joined(repo: Repo, ours: str | None, theirs: str | None, decide: Decide) -> Synced:
    """The state that both sides are to have; nothing is written yet."""
    graph = entries.graph(repo, ours, theirs)
    if not graph:
        raise NotFound("nothing is recorded on either side", hint="record an entry first")
    before, there = ordering.ancestors(graph, ours), ordering.ancestors(graph, theirs)
    if theirs is not None:
        _refuse_foreign(repo, ours, theirs, before, there)
    received = _only(repo, theirs, there - before)
    sent = _only(repo, ours, before - there)
    if ours == theirs:
        return Synced("equal", tip=ours)
    if theirs is None or theirs in before:
        return Synced("sent", (), sent, ours)
    if ours is None or ours in there:
        return Synced("received", received, (), theirs)
    join, tip = _merged(repo, graph, ours, theirs, decide)
    return Synced("joined", received, sent, tip, join.renamed, join.decided,
                  comments_left=tuple(join.comments_left))  # fmt: skip


def _settled(both: _Meeting, done: Synced) -> Synced:
    """Set the names on both sides: first here, then there. `main` before all others."""
    repo, tip = both.ledger.repo, done.tip or ""
    names = exchange.compare(repo, tip, held_names(repo, both.prefixes), both.offer.names)
    done = replace(done, names=names)
    if both.dry_run:
        return done
    new = exchange.needed(repo, tip)
    if both.ours != tip and not both.ledger.advance(both.ours, tip, new):
        raise _Again
    if names.take:
        objects = exchange.needed(repo, *(new for _, new in names.take.values()))
        _note_failed(names, names.take, put(repo, names.take, objects))
    give: dict[str, Move] = dict(names.give)
    if both.theirs != tip:
        give[MAIN] = (both.theirs, tip)
    failed = both.other.push(repo, give) if give else {}
    if MAIN in failed:
        raise _Again(done, both.theirs, failed[MAIN])
    _note_failed(names, names.give, failed)
    return done


def _note_failed(names: Exchange, moves: dict[str, Move], failed: Mapping[str, str]) -> None:
    """What did not go is told as such, and not as done."""
    for name, why in failed.items():
        if moves.pop(name, None):
            names.refused[exchange.short(name)] = f"was not set: {why}"


def _only(repo: Repo, tip: str | None, names: set[str]) -> tuple[Entry, ...]:
    return tuple(entry for entry in entries.history(repo, tip) if entry.id in names)


def _refuse_foreign(
    repo: Repo, ours: str | None, theirs: str, before: set[str], there: set[str]
) -> None:
    """Their history must be of this car and pass what ours passes; nothing is written yet."""
    if ours is not None and not before & there:
        raise InvalidInput(
            "the other side is the ledger of another car", hint="the two have no entry in common"
        )
    if there <= before:
        return
    for finding in judged(repo, theirs, there - before):
        if finding.severity == "error":
            raise TrustError(
                f"what the other side holds cannot be taken: {finding.text}",
                why="its history would not pass buildlog verify",
                hint="run buildlog verify there",
            )


def judged(repo: Repo, tip: str, new: set[str]) -> Iterable[Finding]:
    """What is wrong with a history, judged like our own."""
    graph = entries.graph(repo, tip)
    known = entries.history(repo, tip)
    fresh = {name: parents for name, parents in graph.items() if name in new}
    called = {entry.id: f"its entry {entry.number}" for entry in known}
    yield from check_history.chain(repo, known, fresh)
    yield from check_history.entry_rules(repo, known)
    yield from check_history.beginning(known, graph)
    yield from check_merges.merges(repo, graph)
    for finding in signatures.judge(repo, graph, tip, called, {}).findings:
        if finding.where in new:
            yield finding


# the merge


def _merged(repo: Repo, graph: Graph, ours: str, theirs: str, decide: Decide) -> tuple[Join, str]:
    """The two lines joined, and the merge, which is lent. ChangedUnderYou if it is undecided."""
    join = joining.join(repo, graph, ours, theirs)
    if join.clashes:
        decided = decide(_questions(repo, graph, ours, theirs, join.clashes))
        join = joining.join(repo, graph, ours, theirs, decided)
    if join.clashes:
        named = ", ".join(clash.name for clash in join.clashes[:6])
        raise ChangedUnderYou(
            f"changed on both sides and not decided: {named}",
            why="nothing was taken over and nothing sent",
            hint=f"buildlog sync at a terminal asks; or --take {join.clashes[0].name}=ours",
        )
    twins = ledger_files.twins([path.decode("utf-8", "surrogateescape") for path in join.files])
    if twins:
        raise InvalidInput(
            f"{twins[0][0]} and {twins[0][1]} are one file on many computers",
            hint="record a renamed list on one side first",
        )
    repo.lend(join.blobs)
    trees, commit = _sealed(repo, join, ours, theirs)
    repo.lend([*trees, commit])
    return join, commit.id.decode()


def _sealed(repo: Repo, join: Join, ours: str, theirs: str) -> tuple[list[Tree], Commit]:
    parents = sorted((ours, theirs))
    by = append.identity(_NAME, entries.history(repo, ours)[0].id)
    when = max(repo.commit(parent).commit_time for parent in parents)
    said = {"ours": ours[:8], "theirs": theirs[:8]}
    lines = [f"Decided: {name} as in {said[side]}\n" for name, side in sorted(join.decided.items())]
    text = ("two lines joined\n\n" + "".join(lines)).encode()
    return append.chained(repo, join.files, parents, by, when, text)


# questions


def _questions(
    repo: Repo, graph: Graph, ours: str, theirs: str, clashes: Sequence[Clash]
) -> list[SyncQuestion]:
    before = ordering.ancestors(graph, *joining.bases(graph, ours, theirs))
    sides = [
        [entry for entry in reversed(entries.history(repo, tip)) if entry.id not in before]
        for tip in (ours, theirs)
    ]
    asked = []
    for clash in clashes:
        said = [_last_change(repo, side, clash) for side in sides]
        found = clash.field
        values = (found.ours, found.theirs) if found else (None, None)
        was = found.base if found and not isinstance(found.base, filemerge.Unsure) else None
        both = [Saying(value, entry) for value, entry in zip(values, said, strict=True)]
        asked.append(SyncQuestion(clash.name, was, both[0], both[1], found is None))
    return asked


def _last_change(repo: Repo, side: Sequence[Entry], clash: Clash) -> Entry | None:
    """The newest entry of a side that changed what clashes."""
    for entry in side:
        parent = repo.commit(entry.parents[0]).tree.decode() if entry.parents else None
        if _changed(repo, entry.tree, parent, clash):
            return entry
    return side[0] if side else None


def _changed(repo: Repo, tree: str, parent: str | None, clash: Clash) -> bool:
    path = clash.path.encode("utf-8", "surrogateescape")
    new = repo.find(tree, path)
    old = repo.find(parent, path) if parent else None
    if new == old or clash.field is None:
        return new != old
    return not same_value(_field(repo, clash, old), _field(repo, clash, new))


def _field(repo: Repo, clash: Clash, held: tuple[int, str] | None) -> Value | None:
    form = filemerge.form_of(clash.path)
    try:
        if held is None or form is None or clash.field is None:
            return None
        return form.fields(repo.blob(held[1])).get(clash.field.path)
    except BuildlogError:
        return None
