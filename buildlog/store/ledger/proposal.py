"""What an entry would record, shown before it is recorded."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from dulwich.objects import Blob

from buildlog.errors import ChangedUnderYou, InvalidInput, NotFound
from buildlog.store.disk.lock import read_holder
from buildlog.store.git import index, ledger_files
from buildlog.store.git.repo import REGULAR, Files, Repo
from buildlog.store.ledger import entries, working
from buildlog.store.ledger.append import Step
from buildlog.store.ledger.entries import Entry
from buildlog.store.ledger.reader import Reader
from buildlog.store.ledger.rules import FileChange, change_between
from buildlog.store.ledger.working_places import is_conflict_copy


@dataclass(frozen=True)
class Edits:
    """Files that are to be recorded and are not on the disk yet.

    `tip` and `seen` (the folder's files by object id) are what they were meant for.
    """

    tip: str | None
    seen: Mapping[str, str]
    files: Mapping[str, bytes]


@dataclass(frozen=True)
class EntryProposal:
    """The files before (`old`) and with (`new`) an entry that would follow `tip`."""

    tip: str | None
    old: Files
    new: Files
    change: FileChange
    refused: Mapping[str, str]  # path -> why it cannot be recorded
    left_alone: tuple[str, ...]
    repo: Repo
    folder: Path
    found: working.Working
    joined: working.Joined
    copies: tuple[str, ...] = ()  # made by a file service: told and not recorded
    given: Mapping[str, bytes] = field(default_factory=dict)  # content not from the folder
    laid: Mapping[str, bytes] = field(default_factory=dict)  # of those, written first

    def paths(self) -> list[str]:
        """The recorded paths, with this entry."""
        return [name.decode("utf-8", "surrogateescape") for name in sorted(self.new)]

    def read_old(self, path: str) -> bytes:
        """A file's bytes before this entry."""
        return self.repo.blob(_id(self.old, path))

    def read(self, path: str) -> bytes:
        """A file's bytes with this entry. ChangedUnderYou if it changed since it was looked at."""
        wanted = _id(self.new, path)
        if self.old.get(path.encode("utf-8", "surrogateescape"), (0, ""))[1] == wanted:
            return self.repo.blob(wanted)
        data = self.given.get(path)
        if data is None:
            data = working.read(self.folder, path)
        if Blob.from_string(data).id.decode() != wanted:
            raise ChangedUnderYou("the file changed while it was being recorded", where=path)
        return data

    def refuse_unrecordable(self) -> None:
        """InvalidInput if something in the recorded folders cannot be recorded."""
        if self.refused:
            path, reason = next(iter(self.refused.items()))
            more = len(self.refused) - 1
            raise InvalidInput(
                f"the file {path!r} {reason}",
                why=f"{more} more cannot be recorded" if more else None,
                hint="rename it, or move it out of the recorded folders",
            )

    def step(self) -> Step:
        """What brings the folder in step, never over an edit that was not recorded."""
        moved = {
            path for path in self.joined.edited if self.joined.files.get(path) != self.new.get(path)
        }
        given = {path.encode() for path in self.given.keys() - self.laid.keys()}
        for path in sorted(moved & given):
            text = path.decode()
            raise ChangedUnderYou(
                f"{text} has an edit that is not recorded", hint="record it first"
            )
        equal = _equal(self.found, self.new)
        write = (given | set(self.joined.fetch)) & self.new.keys() - equal.keys()
        drop = (given | set(self.joined.drop)) - self.new.keys()
        return Step(tuple(sorted(write)), tuple(sorted(drop)), equal)


def from_folder(ledger: Reader) -> EntryProposal:
    """What `record` would record now. Reads only; nothing is held."""
    repo, folder, tip = ledger.repo, ledger.folder, ledger.repo.tip()
    found = working.scan(folder)
    old = repo.files_of(tip)
    copies = [
        path for path in found.files
        if path.encode() not in old and is_conflict_copy(path, found.files)
    ]  # fmt: skip
    for path in copies:
        del found.files[path], found.stats[path.encode()]
    base = _agreed(repo, index.read(repo.git), tip, old)
    note = read_holder(repo.git)
    ours = tip is not None and note is not None and note.entry == tip
    joined = working.join([old if base is None else base, *([old] if ours else [])], old, found)
    if base is None:
        _refuse_old_files(repo, joined, ledger.entries)
    return EntryProposal(
        tip, old, joined.files, change_between(old, joined.files), found.refused,
        tuple(found.left_alone), repo, folder, found, joined, copies=tuple(copies),
    )  # fmt: skip


def step_to(repo: Repo, folder: Path, old: str | None, new: str) -> tuple[Files, Step]:
    """The files of a commit made elsewhere, and what brings the folder from `old` to them.

    What was edited in the folder and not recorded stays. ChangedUnderYou if the other side
    recorded something else in the same file.
    """
    found = working.scan(folder)
    before = repo.files_of(old)
    base = _agreed(repo, index.read(repo.git), new, before)
    files = repo.files_of(new)
    joined = working.join([before if base is None else base], files, found)
    return files, Step(joined.fetch, joined.drop, _equal(found, files))


def _equal(found: working.Working, files: Files) -> dict[bytes, os.stat_result]:
    """The paths whose file on the disk has the content that is meant."""
    return {
        path: stats
        for path, stats in found.stats.items()
        if files.get(path) == (REGULAR, found.files[path.decode()])
    }


def _agreed(repo: Repo, base: Files | None, tip: str | None, held: Files) -> Files | None:
    """The index, less what was only staged with `git add`: an edit, recorded nowhere yet.

    Without this a staged edit would look like an old file, and be taken back.
    """
    odd = {path for path in base if base[path] != held.get(path)} if base else set()
    if base is None or not odd:
        return base
    recorded: set[tuple[bytes, tuple[int, str]]] = set()
    for name in entries.graph(repo, tip):
        files = repo.files_of(name)
        recorded |= {(path, files[path]) for path in odd & files.keys()}
    staged = {path for path in odd if (path, base[path]) not in recorded}
    kept = {path: content for path, content in base.items() if path not in staged}
    return kept | {path: held[path] for path in staged & held.keys()}


def with_changes(base: EntryProposal, changes: Mapping[str, bytes | None]) -> EntryProposal:
    """Given files (None: remove) on the tip; what was edited in the folder stays out."""
    new, given = dict(base.old), {}
    for path, data in changes.items():
        if ledger_files.kind_of(path) is None:
            raise InvalidInput(f"{path!r} is no file of a ledger")
        given[path] = data or b""
        if data is None:
            new.pop(path.encode(), None)
        else:
            new[path.encode()] = (REGULAR, Blob.from_string(data).id.decode())
    change = change_between(base.old, new)
    return replace(base, new=new, change=change, refused={}, given=given)


def limited(base: EntryProposal, only: Sequence[str]) -> EntryProposal:
    """The same with nothing but these paths of what was edited; a session is taken whole.

    InvalidInput for a path that no edit has touched.
    """
    edited = {path.decode("utf-8", "surrogateescape") for path in base.joined.edited}
    for path in only:
        if path not in edited:
            hint = "load the page again" if path in base.found.files else "name an edited file"
            raise InvalidInput(f"{path} is not edited, or recorded already", hint=hint)
    sessions = {name for path in only if (name := ledger_files.session_of(path))}
    left = edited - {path for path in edited if path in only} - {
        path for path in edited if ledger_files.session_of(path) in sessions
    }  # fmt: skip
    new = dict(base.new)
    for path in left:
        place = path.encode("utf-8", "surrogateescape")
        new.pop(place, None)
        new |= {place: base.old[place]} if place in base.old else {}
    refused = {path: why for path, why in base.refused.items() if path not in left}
    return replace(base, new=new, change=change_between(base.old, new), refused=refused)


def with_edits(base: EntryProposal, edits: Edits) -> EntryProposal:
    """The same with files that are not on the disk yet, as if they were.

    ChangedUnderYou if another entry was recorded, or a file written, since they were meant.
    """
    if base.tip != edits.tip:
        raise ChangedUnderYou(
            "another entry was recorded meanwhile", hint="look at it, then edit again"
        )
    now, then = base.found.files, edits.seen
    for path in sorted(now.keys() | then.keys()):
        if now.get(path) != then.get(path):
            raise ChangedUnderYou(
                "the file was changed meanwhile", where=path, hint="look at it, then edit again"
            )
    laid = {path.encode(): (REGULAR, working.blob_id(data)) for path, data in edits.files.items()}
    new = {**base.new, **laid}
    twins = ledger_files.twins([path.decode("utf-8", "surrogateescape") for path in new])
    return replace(
        base,
        new=new,
        refused={**base.refused, **{b: f"differs from {a} in capitals only" for a, b in twins}},
        change=change_between(base.old, new),
        joined=replace(base.joined, files=new),
        given=edits.files,
        laid=edits.files,
    )


def _refuse_old_files(
    repo: Repo, joined: working.Joined, history: Callable[[], Sequence[Entry]]
) -> None:
    """Without an index, a file equal to an earlier version may be old and not an edit."""
    suspects = {path: joined.files[path] for path in joined.edited if path in joined.files}
    for entry in reversed(history()) if suspects else ():
        held = repo.files(entry.tree)
        for path, content in suspects.items():
            if held.get(path) == content:
                text = path.decode("utf-8", "replace")
                raise ChangedUnderYou(
                    f"{text} is as it was in entry {entry.number}, and git's index is gone: "
                    "an old file and an edit look alike",
                    where=text,
                    hint="`git reset` makes a new index; then `git diff` shows the difference",
                )


def _id(files: Files, path: str) -> str:
    try:
        return files[path.encode("utf-8", "surrogateescape")][1]
    except KeyError:
        raise NotFound(f"{path} is not recorded") from None
