"""The history as it was written: the chain of digests, the rules, names, outsiders, clocks."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

from buildlog.errors import BuildlogError
from buildlog.findings import Finding
from buildlog.store.git import ledger_files, message
from buildlog.store.git.digest import recorded
from buildlog.store.git.repo import Repo
from buildlog.store.ledger import rules
from buildlog.store.ledger.entries import Entry
from buildlog.store.ledger.names import HANDOVERS, STAGES
from buildlog.store.verify.damage_words import altered, fault

_CLOCK = timedelta(minutes=5)


def chain(repo: Repo, known: list[Entry], commits: dict[str, tuple[str, ...]]) -> Iterator[Finding]:
    numbers = {entry.id: entry.number for entry in known}
    for name in commits:
        try:
            commit = repo.commit(name)
            said = recorded(commit.message)
            if said is not None and said != repo.computed_digest(commit):
                number = numbers.get(name)
                text = f"entry {number}" if number else f"the merge {name[:8]}"
                yield altered(
                    "digest", f"{text} does not have the content its digest was made of", name
                )
        except BuildlogError as error:
            yield fault("digest", error, name)


def entry_rules(repo: Repo, known: list[Entry]) -> Iterator[Finding]:
    past = rules.Past()
    for entry in known:
        try:
            old = repo.files_of(entry.parents[0] if entry.parents else None)
            new = repo.files(entry.tree)
            change = rules.change_between(old, new)
            found = rules.judge(entry, _recordable(change), new, entry.parents, past)
            said = message.parse(repo.commit(entry.id).message).fact("kind")
            if said is not None and said not in message.KINDS:
                yield altered("kind", f"entry {entry.number}: {said!r} is no kind", entry.id)
            for finding in found:
                yield altered(finding.code, f"entry {entry.number}: {finding.text}", entry.id)
            yield from _strangers(entry, change)
        except BuildlogError as error:
            yield fault("rules", error, entry.id)
        past.add(entry)


def _recordable(change: rules.FileChange) -> rules.FileChange:
    """The part of a change that rules are about: a friend's README is only noted."""
    kept = [
        tuple(path for path in group if ledger_files.kind_of(path) or ledger_files.refusal(path))
        for group in (change.added, change.changed, change.deleted)
    ]
    return rules.FileChange(*kept)


def _strangers(entry: Entry, change: rules.FileChange) -> Iterator[Finding]:
    for path in change.added:
        if ledger_files.kind_of(path) is None:
            text = f"entry {entry.number} holds {path!r}, which is no file of a ledger"
            yield Finding("file-unknown", "note", text, where=entry.id)


def beginning(known: list[Entry], commits: dict[str, tuple[str, ...]]) -> Iterator[Finding]:
    roots = [name for name, parents in commits.items() if not parents]
    if len(roots) > 1:
        yield altered("roots", f"the history begins {len(roots)} times", roots[-1])
    if known[0].nonce is None:
        yield altered("nonce", "entry 1 has no Ledger-nonce", known[0].id)
    for entry in known[1:]:
        if entry.nonce is not None:
            text = f"entry {entry.number} begins another ledger (it has a Ledger-nonce)"
            yield altered("nonce", text, entry.id)


def stages(repo: Repo, known: list[Entry]) -> Iterator[Finding]:
    try:
        tags = repo.references(STAGES)
        named = {entry.stage: entry for entry in known if entry.stage}
        for name in sorted(named.keys() - tags.keys()):
            yield Finding("stage-tag", "note", f"the tag stage/{name} is missing; it is re-made")
        for name, target in tags.items():
            entry = named.get(name)
            if entry is None or repo.peel(target) != entry.id:
                text = f"the tag stage/{name} does not name the entry of that stage"
                yield Finding("stage-tag", "caution", text, hint="the entry's own word counts")
    except BuildlogError as error:
        yield fault("names", error)


def outsiders(repo: Repo, known: list[Entry]) -> Iterator[Finding]:
    for entry in known:
        if entry.recorded_outside:
            text = f"entry {entry.number} ({entry.short}) was recorded outside buildlog"
            yield Finding("outside", "note", text, where=entry.id)
            yield from _undone(repo, entry)


def _undone(repo: Repo, entry: Entry) -> Iterator[Finding]:
    try:
        parent = repo.commit(entry.parents[0]) if len(entry.parents) == 1 else None
        if parent is None or len(parent.parents) != 1:
            return
        line = (parent.parents[0].decode(), entry.parents[0], entry.id)
        old, middle, new = (repo.held(one, "car.toml") or b"" for one in line)
    except BuildlogError:
        return
    fields = undone_fields(old, middle, new)
    if fields:
        text = f"entry {entry.number} puts back what the entry before changed: {', '.join(fields)}"
        yield Finding("undone", "caution", text, tuple(fields), where=entry.id)


def undone_fields(grandparent: bytes, parent: bytes, entry: bytes) -> list[str]:
    """The dotted paths whose value the parent changed and the entry put back.

    A plain `git commit` from an old copy does that without anybody meaning it.
    """
    try:
        texts = [data.decode("utf-8-sig") for data in (grandparent, parent, entry)]
        old, middle, new = (dict(_leaves(tomllib.loads(text), "")) for text in texts)
    except (UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError):
        return []
    absent = object()
    return sorted(
        path
        for path in old.keys() | middle.keys() | new.keys()
        if new.get(path, absent) == old.get(path, absent) != middle.get(path, absent)
    )


def _leaves(value: Any, path: str) -> Iterator[tuple[str, Any]]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _leaves(inner, f"{path}.{key}" if path else key)
    else:
        yield path, value


def repairs(known: list[Entry]) -> Iterator[Finding]:
    for entry in known:
        if entry.repaired:
            old, _, new = entry.repaired.partition(" ")
            text = (f"before entry {entry.number} the branch main was set anew by buildlog repair, "
                    f"from {old[:8]} to {new[:8]}")  # fmt: skip
            yield Finding("repaired", "note", text, where=entry.id)


def handovers(repo: Repo, known: list[Entry]) -> Iterator[Finding]:
    """A handover whose tag is gone: the tag is evidence of what left, and it is not re-made."""
    held = {name for name in repo.names() if name.startswith(HANDOVERS)}
    for entry in known:
        if entry.kind != "handover" or not entry.parents:
            continue
        for path in repo.news(repo.commit(entry.parents[0]).tree.decode(), entry.tree):
            name = path.decode("utf-8", "replace")
            number = name.removeprefix("handover/").removesuffix(".toml")
            data = repo.held(entry.id, name) if number.isdigit() else None
            if data and b'role = "given"' in data and HANDOVERS + number not in held:
                text = f"entry {entry.number} gives the car on; its tag handover/{number} is gone"
                hint = "sync with a copy that has it"
                yield Finding("handover-tag", "caution", text, where=entry.id, hint=hint)


def clocks(known: list[Entry]) -> Iterator[Finding]:
    times = {entry.id: entry for entry in known}
    for entry in known:
        before = times.get(entry.parents[0]) if entry.parents else None
        if before and entry.recorded_at < before.recorded_at - _CLOCK:
            text = f"entry {entry.number} was made by a clock behind that of entry {before.number}"
            yield Finding("clock", "note", text, where=entry.id)
