"""Naming a version: working, latest, first, last-dyno, 12, stage-1, plan:NAME, 3fa81c02."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from buildlog.errors import NotFound
from buildlog.store.ledger.entries import Entry

if TYPE_CHECKING:
    from dulwich.objects import Commit

PLANS = "refs/heads/plan/"
_PREFIX = re.compile(r"[0-9a-f]{7,40}")


class Tips(Protocol):
    """Where references are looked up: the repository, or what was seen of it."""

    def reference(self, name: str) -> str | None: ...

    def references(self, prefix: str) -> dict[str, str]: ...

    def commit(self, commit_id: str) -> Commit: ...


@dataclass(frozen=True)
class NamedVersion:
    """A configuration that can be named. Working has neither entry nor commit; a plan no entry."""

    name: str
    entry: Entry | None
    commit: str | None
    tree: str | None

    @property
    def is_working(self) -> bool:
        return self.commit is None


WORKING = NamedVersion("working", None, None, None)


def resolve(
    name: str, entries: Sequence[Entry], tips: Tips, adds_session: Callable[[Entry], bool]
) -> NamedVersion:
    """The version a name means. NotFound lists the nearest names."""
    if name == "working":
        return WORKING
    if name.startswith("plan:"):
        return _plan(name, tips)
    entry = _entry(name, entries, adds_session)
    if entry is None:
        raise _not_found(name, entries, tips)
    return of(entry, name)


def of(entry: Entry, name: str | None = None) -> NamedVersion:
    """An entry as a version."""
    return NamedVersion(name or entry.stage or str(entry.number), entry, entry.id, entry.tree)


def _entry(
    name: str, entries: Sequence[Entry], adds_session: Callable[[Entry], bool]
) -> Entry | None:
    if name == "latest":
        return entries[-1] if entries else None
    if name == "first":
        return entries[0] if entries else None
    if name == "last-dyno":
        return next((entry for entry in reversed(entries) if adds_session(entry)), None)
    for entry in entries:
        if entry.stage == name:
            return entry
    if name.isdecimal() and name.isascii() and 1 <= int(name[:9]) <= len(entries) and len(name) < 7:
        return entries[int(name) - 1]
    return _by_prefix(name.lower(), entries)


def _by_prefix(prefix: str, entries: Sequence[Entry]) -> Entry | None:
    if not _PREFIX.fullmatch(prefix):
        return None
    found = [entry for entry in entries if entry.id.startswith(prefix)]
    if len(found) > 1:
        shown = ", ".join(
            f"{entry.id[: len(prefix) + 4]} (entry {entry.number})" for entry in found
        )
        raise NotFound(f"the id {prefix} is ambiguous", hint=f"one of {shown}")
    return found[0] if found else None


def _plan(name: str, tips: Tips) -> NamedVersion:
    plan = name.removeprefix("plan:")
    commit_id = tips.reference(PLANS + plan) if re.fullmatch(r"[\w.-]+", plan) else None
    if commit_id is None:
        raise NotFound(
            f'there is no plan "{plan}"',
            hint=_nearest(plan, tips.references(PLANS), "no plans yet"),
        )
    return NamedVersion(name, None, commit_id, tips.commit(commit_id).tree.decode())


def _not_found(name: str, entries: Sequence[Entry], tips: Tips) -> NotFound:
    if not entries:
        return NotFound(
            f'"{name}" names no version: nothing is recorded yet', hint="record an entry first"
        )
    if name == "last-dyno":
        return NotFound("no entry adds a dyno session", hint="see `buildlog history`")
    stages = [entry.stage for entry in entries if entry.stage]
    ids = [entry.short for entry in entries if entry.id.startswith(name[:4].lower())]
    plans = [f"plan:{plan}" for plan in tips.references(PLANS)]
    special = ["working", "latest", "first", "last-dyno"]
    choices = [f"a number from 1 to {len(entries)}", *stages[-4:]]
    hint = _nearest(name, [*stages, *plans, *special, *ids[:3]], f"one of: {', '.join(choices)}")
    return NotFound(f'"{name}" names no version', hint=hint)


def _nearest(name: str, choices: Iterable[str], otherwise: str) -> str:
    close = difflib.get_close_matches(name, list(choices), n=3, cutoff=0.5)
    return f"did you mean {', '.join(close)}?" if close else otherwise
