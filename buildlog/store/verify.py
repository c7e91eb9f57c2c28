"""Is a ledger what it was: every object, the chain of digests, and the rules.

Damage is a finding, never an exception. Without a signature or a fingerprint on paper
the best verdict is `consistent`: somebody who rewrote everything would look the same.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from typing import Literal

from buildlog.errors import BuildlogError, DamagedLedger
from buildlog.findings import Finding
from buildlog.store import entries, index, message, paths, rules
from buildlog.store.digest import recorded
from buildlog.store.entries import Entry
from buildlog.store.ledger import STAGES, Ledger
from buildlog.store.message import Facts
from buildlog.store.repo import Files, Repo
from buildlog.store.undone import undone_fields

Verdict = Literal["intact", "consistent", "altered", "cannot-tell"]
_CLOCK = timedelta(minutes=5)


@dataclass(frozen=True)
class Check:
    """One thing that was looked at, over how many, and whether all of it held."""

    name: str
    looked_at: int
    held: bool


@dataclass(frozen=True)
class Verification:
    """What `verify` found."""

    verdict: Verdict
    checks: tuple[Check, ...]
    findings: tuple[Finding, ...]
    last_good: Entry | None  # the last entry before the first fault
    proves: tuple[str, ...]
    does_not_prove: tuple[str, ...]


def verify(ledger: Ledger) -> Verification:
    """Look at everything reachable from `main`."""
    try:
        known = ledger.entries()
        tip = ledger.repo.tip()
        commits = entries.graph(ledger.repo, tip) if tip else {}
    except BuildlogError as error:
        return _result([], [_fault("unreadable", error)], [])
    if not known:
        nothing = Finding("empty", "note", "nothing is recorded in this ledger yet")
        return _result([], [nothing], [])
    steps = [
        ("objects", len(commits), list(_objects(ledger.repo, commits))),
        ("packs", len(_packs(ledger.repo)), list(_pack_faults(ledger.repo))),
        ("digest chain", len(commits), list(_chain(ledger.repo, known, commits))),
        ("rules", len(known), list(_rules(ledger.repo, known))),
        ("beginning", 1, list(_beginning(known, commits))),
        ("merges", len(commits) - len(known), list(_merges(ledger.repo, commits))),
        ("names", len(known), list(_stages(ledger, known))),
    ]
    checks = [Check(name, count, not _errors(found)) for name, count, found in steps]
    found = [finding for _, _, findings in steps for finding in findings]
    found += [*_outside(ledger.repo, known), *_clocks(known), *_index(ledger)]
    return _result(checks, found, known)


def _result(checks: list[Check], found: list[Finding], known: list[Entry]) -> Verification:
    faulty = {finding.where for finding in _errors(found)}
    verdict: Verdict = "altered" if faulty else "consistent" if known else "cannot-tell"
    if checks == [] and found and found[0].code == "unreadable":
        verdict = "altered"
    good = None
    for entry in known:
        if entry.id in faulty:
            break
        good = entry
    consistent = verdict == "consistent"
    return Verification(
        verdict,
        tuple(checks),
        tuple(found),
        good if not faulty or faulty & {entry.id for entry in known} else None,
        ("every recorded file and entry reads back as it was written and fits the next one",)
        if consistent
        else (),
        (
            "that the whole ledger was not rewritten: nothing here is signed, and no fingerprint "
            "was compared",
            "that entries at the end were not cut off",
            "when an entry was made: its date is the recorder's word",
        ),
    )


def _objects(repo: Repo, commits: dict[str, tuple[str, ...]]) -> Iterator[Finding]:
    seen: set[str] = set()
    for name in commits:
        try:
            commit = repo.commit(name)
            commit.check()
            _refuse_torn(repo, name)
            for object_id in _unseen(repo, commit.tree.decode(), seen):
                _refuse_torn(repo, object_id)
                repo.objects[object_id.encode()].check()  # type: ignore[index]
        except BuildlogError as error:
            yield _fault("object", error, name)
        except Exception as error:
            yield _fault("object", DamagedLedger(f"an object is malformed: {error}"), name)


def _refuse_torn(repo: Repo, object_id: str) -> None:
    """A loose file must end where its compressed stream ends; reading alone forgives its loss."""
    path = repo.git / "objects" / object_id[:2] / object_id[2:]
    if path.exists():
        stream = zlib.decompressobj()
        stream.decompress(path.read_bytes())
        if not stream.eof or stream.unused_data:
            raise DamagedLedger(f"the file of the object {object_id[:12]} is torn")


def _unseen(repo: Repo, tree_id: str, seen: set[str]) -> Iterator[str]:
    if tree_id in seen:
        return
    seen.add(tree_id)
    yield tree_id
    for _, mode, oid in repo.fresh_tree(tree_id):
        object_id = oid.decode()
        if mode == 0o040000:
            yield from _unseen(repo, object_id, seen)
        elif mode != 0o160000 and object_id not in seen:
            seen.add(object_id)
            repo.blob(object_id)
            yield object_id


def _packs(repo: Repo) -> list[object]:
    try:
        return list(repo.objects.packs)
    except Exception:
        return [None]


def _pack_faults(repo: Repo) -> Iterator[Finding]:
    try:
        for pack in repo.objects.packs:
            pack.index.check()
            pack.data.check()
            pack.check()
    except Exception as error:
        yield _fault("pack", DamagedLedger(f"a pack of objects is damaged: {error}"))


def _chain(
    repo: Repo, known: list[Entry], commits: dict[str, tuple[str, ...]]
) -> Iterator[Finding]:
    numbers = {entry.id: entry.number for entry in known}
    for name in commits:
        try:
            commit = repo.commit(name)
            said = recorded(commit.message)
            if said is not None and said != repo.computed_digest(commit):
                number = numbers.get(name)
                text = f"entry {number}" if number else f"the merge {name[:8]}"
                yield _altered(
                    "digest", f"{text} does not have the content its digest was made of", name
                )
        except BuildlogError as error:
            yield _fault("digest", error, name)


def _rules(repo: Repo, known: list[Entry]) -> Iterator[Finding]:
    past = rules.Past()
    for entry in known:
        try:
            old = repo.files(repo.commit(entry.parents[0]).tree.decode()) if entry.parents else {}
            new = repo.files(entry.tree)
            change = rules.change_between(old, new)
            found = rules.judge(_facts(entry), _recordable(change), new, entry.parents, past)
            said = message.parse(repo.commit(entry.id).message).fact("kind")
            if said is not None and said not in message.KINDS:
                yield _altered("kind", f"entry {entry.number}: {said!r} is no kind", entry.id)
            for finding in found:
                yield _altered(finding.code, f"entry {entry.number}: {finding.text}", entry.id)
            yield from _strangers(entry, change)
        except BuildlogError as error:
            yield _fault("rules", error, entry.id)
        past.add(entry)


def _recordable(change: rules.Change) -> rules.Change:
    """The part of a change that rules are about: a friend's README is only noted."""
    kept = [
        tuple(path for path in group if paths.kind_of(path) or paths.refusal(path))
        for group in (change.added, change.changed, change.deleted)
    ]
    return rules.Change(*kept)


def _strangers(entry: Entry, change: rules.Change) -> Iterator[Finding]:
    for path in change.added:
        if paths.kind_of(path) is None:
            text = f"entry {entry.number} holds {path!r}, which is no file of a ledger"
            yield Finding("file-unknown", "note", text, where=entry.id)


def _facts(entry: Entry) -> Facts:
    return Facts(
        entry.subject, kind=entry.kind, stage=entry.stage, odometer=entry.odometer,
        odometer_note=entry.odometer_note, work_date=entry.work_date, corrects=entry.corrects,
        resolves=entry.resolves,
    )  # fmt: skip


def _beginning(known: list[Entry], commits: dict[str, tuple[str, ...]]) -> Iterator[Finding]:
    roots = [name for name, parents in commits.items() if not parents]
    if len(roots) > 1:
        yield _altered("roots", f"the history begins {len(roots)} times", roots[-1])
    if known[0].nonce is None:
        yield _altered("nonce", "entry 1 has no Ledger-nonce", known[0].id)
    for entry in known[1:]:
        if entry.nonce is not None:
            text = f"entry {entry.number} begins another ledger (it has a Ledger-nonce)"
            yield _altered("nonce", text, entry.id)


def _merges(repo: Repo, commits: dict[str, tuple[str, ...]]) -> Iterator[Finding]:
    """A merge joins lines. All it holds, car.toml and lists apart, comes from one of them."""
    for name, parents in commits.items():
        if len(parents) < 2:
            continue
        try:
            merged = repo.files(repo.commit(name).tree.decode())
            sides = [repo.files(repo.commit(parent).tree.decode()) for parent in parents]
        except BuildlogError as error:
            yield _fault("merge", error, name)
            continue
        for path in sorted(_lost_or_new(merged, sides)):
            text = path.decode("utf-8", "replace")
            yield _altered("merge", f"the merge {name[:8]} changes {text!r} by itself", name)


def _lost_or_new(merged: Files, sides: list[Files]) -> set[bytes]:
    found = set()
    for path in set().union(merged, *sides):
        kind = paths.kind_of(path.decode("utf-8", "surrogateescape"))
        held = [side.get(path) for side in sides]
        free = kind in ("configuration", "list", "keys", "priors", None)
        if free and path in merged:
            continue
        if merged.get(path) not in held or (path not in merged and kind in paths.ADD_ONLY):
            found.add(path)
    return found


def _stages(ledger: Ledger, known: list[Entry]) -> Iterator[Finding]:
    try:
        tags = ledger.repo.references(STAGES)
        stages = {entry.stage: entry for entry in known if entry.stage}
        for name, target in tags.items():
            entry = stages.get(name)
            if entry is None or ledger.repo.peel(target) != entry.id:
                text = f"the tag stage/{name} does not name the entry of that stage"
                yield Finding("stage-tag", "caution", text, hint="the entry's own word counts")
    except BuildlogError as error:
        yield _fault("names", error)


def _outside(repo: Repo, known: list[Entry]) -> Iterator[Finding]:
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
        before = repo.commit(parent.parents[0].decode())
        trees = (before.tree.decode(), parent.tree.decode(), entry.tree)
        held = [repo.files(tree).get(b"car.toml") for tree in trees]
        old, middle, new = (repo.blob(found[1]) if found else b"" for found in held)
    except (BuildlogError, IndexError):
        return
    fields = undone_fields(old, middle, new)
    if fields:
        text = f"entry {entry.number} puts back what the entry before changed: {', '.join(fields)}"
        yield Finding("undone", "caution", text, tuple(fields), where=entry.id)


def _clocks(known: list[Entry]) -> Iterator[Finding]:
    times = {entry.id: entry for entry in known}
    for entry in known:
        before = times.get(entry.parents[0]) if entry.parents else None
        if before and entry.recorded_at < before.recorded_at - _CLOCK:
            text = f"entry {entry.number} was made by a clock behind that of entry {before.number}"
            yield Finding("clock", "note", text, where=entry.id)


def _index(ledger: Ledger) -> Iterator[Finding]:
    try:
        tip = ledger.repo.tip()
        held = index.read(ledger.repo.git)
        if tip and held != ledger.repo.files(ledger.repo.commit(tip).tree.decode()):
            text = "git's index is behind the last entry; the next command that writes renews it"
            yield Finding("index", "note", text)
        if not ledger.repo.head_is_main():
            yield Finding("head", "caution", "the folder does not show the branch main")
    except BuildlogError as error:
        yield _fault("index", error)


def _errors(found: list[Finding]) -> list[Finding]:
    return [finding for finding in found if finding.severity == "error"]


def _altered(code: str, text: str, where: str) -> Finding:
    hint = "compare with another copy of this ledger from before"
    return Finding(code, "error", text, where=where, hint=hint)


def _fault(code: str, error: BuildlogError, where: str | None = None) -> Finding:
    return Finding(code, "error", error.what, where=where, hint=error.hint)
