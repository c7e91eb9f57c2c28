"""Naming a version: working, latest, first, last-dyno, 12, stage-1, plan:NAME, 3fa81c02."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from buildlog.errors import NotFound
from buildlog.store.git.repo import MAIN
from buildlog.store.ledger.entries import Entry

PLANS = "refs/heads/plan/"
STAGES = "refs/tags/stage/"
HANDOVERS = "refs/tags/handover/"
OWN = (MAIN, PLANS, STAGES, HANDOVERS)  # the references that are the ledger's
_PREFIX = re.compile(r"[0-9a-f]{7,40}")


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
    name: str,
    entries: Sequence[Entry],
    plans: Callable[[], Iterable[str]],
    adds_session: Callable[[Entry], bool],
) -> NamedVersion:
    """The version a name means, a plan's apart. NotFound lists the nearest names."""
    if name == "working":
        return WORKING
    entry = _entry(name, entries, adds_session)
    if entry is None:
        raise _not_found(name, entries, plans)
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


def plan(name: str, plans: Mapping[str, str]) -> str:
    """The commit of a plan. NotFound lists the nearest plans."""
    if name not in plans:
        raise NotFound(f'there is no plan "{name}"', hint=_nearest(name, plans, "no plans yet"))
    return plans[name]


def _not_found(name: str, entries: Sequence[Entry], plans: Callable[[], Iterable[str]]) -> NotFound:
    if not entries:
        return NotFound(
            f'"{name}" names no version: nothing is recorded yet', hint="record an entry first"
        )
    if name == "last-dyno":
        return NotFound("no entry adds a dyno session", hint="see `buildlog history`")
    stages = [entry.stage for entry in entries if entry.stage]
    ids = [entry.short for entry in entries if entry.id.startswith(name[:4].lower())]
    planned = [f"plan:{one}" for one in plans()]
    special = ["working", "latest", "first", "last-dyno"]
    choices = [f"a number from 1 to {len(entries)}", *stages[-4:]]
    hint = _nearest(name, [*stages, *planned, *special, *ids[:3]], f"one of: {', '.join(choices)}")
    return NotFound(f'"{name}" names no version', hint=hint)


def _nearest(name: str, choices: Iterable[str], otherwise: str) -> str:
    close = difflib.get_close_matches(name, list(choices), n=3, cutoff=0.5)
    return f"did you mean {', '.join(close)}?" if close else otherwise
