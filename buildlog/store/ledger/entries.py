"""The entries of a ledger: every commit reachable from `main` that is not a merge.

They are ordered parents first, then by work date, then by id, and numbered from 1. A
number is for talking; the id names an entry for good.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass
from datetime import UTC, date, datetime
from graphlib import TopologicalSorter
from typing import TYPE_CHECKING, Any

from buildlog.errors import DamagedLedger, InvalidInput
from buildlog.store.git import message
from buildlog.store.git.digest import recorded
from buildlog.store.git.message import EntryFacts
from buildlog.store.git.size_limits import refuse_more
from buildlog.store.ledger import newer_entries

if TYPE_CHECKING:
    from collections.abc import Sequence

    from dulwich.objects import Commit

    from buildlog.store.git.repo import Repo


@dataclass(frozen=True, kw_only=True)
class Entry(EntryFacts):
    """One recorded entry; ids are whole (40 hex digits), `tree` is the id of its files.

    Its odometer is as written, and None when it is absent or "unknown".
    """

    number: int
    id: str
    parents: tuple[str, ...]
    tree: str
    work_date: date
    recorded_at: datetime  # the commit's own clock, UTC: the shop's word, nothing more
    odometer_m: float | None  # metres
    nonce: str | None
    digest: str | None
    recorded_outside: bool  # made by plain git, not by buildlog
    signed: bool  # carries a signature; whether it is good is `verify`'s to say

    @property
    def short(self) -> str:
        """The first eight digits of the id."""
        return self.id[:8]


def approvers(found: Sequence[Entry], one: Entry) -> list[str]:
    """Who answers for an entry: who did when it was recorded, then who approved it later."""
    later = [entry.approved_by for entry in found if entry.approves == one.id]
    return [who for who in (one.approved_by, *later) if who]


def history(repo: Repo, tip: str | None, read: dict[str, Commit] | None = None) -> list[Entry]:
    """All entries reachable from `tip`, first to last. `read`: commits that were read already."""
    if tip is None:
        return []
    commits = _reachable(repo, tip, read)
    found = [_entry(commit, number) for number, commit in enumerate(_ordered(commits), start=1)]
    return _offered(repo, found)


def extend(repo: Repo, tip: str | None, known_tip: str | None, known: list[Entry]) -> list[Entry]:
    """The history of `tip`, reusing the known one where the new commits only continue its line."""
    if tip is None or known_tip is None:
        return history(repo, tip)
    newer = []
    current = tip
    while current != known_tip:
        commit = repo.commit(current)
        if len(commit.parents) != 1:
            return history(repo, tip)
        newer.append(commit)
        current = commit.parents[0].decode()
    start = len(known) + 1
    found = known + [_entry(one, start + step) for step, one in enumerate(reversed(newer))]
    return _offered(repo, found)


def _offered(repo: Repo, found: list[Entry]) -> list[Entry]:
    """The same; what a newer program wrote among them is proof of its fields."""
    for entry in found:
        newer_entries.offer(repo, entry.id, entry.tree, entry.written_by)
    return found


def graph(repo: Repo, *tips: str | None) -> dict[str, tuple[str, ...]]:
    """Every commit reachable from the tips, merges included, with its parents."""
    known: dict[str, Commit] = {}
    for tip in filter(None, tips):
        known |= _reachable(repo, tip)
    return {name: _parents(commit) for name, commit in known.items()}


def metres(odometer: str | None) -> float | None:
    """The distance an odometer text states; None for "unknown" or a text that is no distance."""
    from buildlog.units import parse

    if odometer is None or odometer == "unknown":
        return None
    try:
        return parse(odometer, ("length",)).si
    except InvalidInput:
        return None


def _reachable(repo: Repo, tip: str, read: dict[str, Commit] | None = None) -> dict[str, Commit]:
    commits: dict[str, Commit] = {}
    held = read or {}
    wanted = [tip]
    while wanted:
        name = wanted.pop()
        if name not in commits:
            commits[name] = held.get(name) or repo.commit(name)
            refuse_more(len(commits), repo.limits.commits, "entries in one history")
            wanted += _parents(commits[name])
    return commits


def _ordered(commits: dict[str, Commit]) -> list[Commit]:
    """Parents first, then by work date, then by id; merges take part but are left out."""
    waiting = TopologicalSorter({name: _parents(commit) for name, commit in commits.items()})
    waiting.prepare()
    ready: list[tuple[bool, date, str]] = []
    ordered = []
    while waiting.is_active():
        for name in waiting.get_ready():
            heapq.heappush(ready, _key(commits[name]))
        name = heapq.heappop(ready)[-1]
        if len(commits[name].parents) < 2:
            ordered.append(commits[name])
        waiting.done(name)
    return ordered


def _key(commit: Commit) -> tuple[bool, date, str]:
    is_entry = len(commit.parents) < 2  # a merge is passed at once: it only joins lines
    return (is_entry, _work_date(commit, message.parse(commit.message)), commit.id.decode())


def _entry(commit: Commit, number: int) -> Entry:
    said = message.parse(commit.message)
    digest = recorded(commit.message)
    facts: dict[str, Any] = said.facts()
    if facts["odometer"] == "unknown":
        facts["odometer"] = None
    if facts["kind"] not in message.KINDS:
        facts["kind"] = "build"
    facts["work_date"] = _work_date(commit, said)
    return Entry(
        **facts,
        number=number,
        id=commit.id.decode(),
        parents=_parents(commit),
        tree=commit.tree.decode(),
        recorded_at=_moment(commit.commit_time),
        odometer_m=metres(facts["odometer"]),
        nonce=said.trailers.get(message.NONCE_KEY),
        digest=digest,
        recorded_outside=digest is None,
        signed=b"\ngpgsig " in commit.as_raw_string().partition(b"\n\n")[0],
    )


def _parents(commit: Commit) -> tuple[str, ...]:
    return tuple(parent.decode() for parent in commit.parents)


def _work_date(commit: Commit, said: message.Parsed) -> date:
    stated = said.fact("work_date")
    try:
        return date.fromisoformat(stated) if stated else _own_day(commit)
    except ValueError:
        return _own_day(commit)


def _own_day(commit: Commit) -> date:
    """The day on which a plain git's author worked, in the zone that git wrote down."""
    return _moment(commit.author_time + commit.author_timezone).date()


def _moment(seconds: int) -> datetime:
    try:
        return datetime.fromtimestamp(seconds, UTC)
    except (OverflowError, ValueError, OSError) as error:
        raise DamagedLedger(f"a commit's time ({seconds}) is no time of this calendar") from error
