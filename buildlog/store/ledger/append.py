"""The one write path: from files and facts to an entry that no power cut takes away.

Under our lock: sweep, look at the tip, let the caller propose files and judge them, build
and add the objects (forced to the disk), move `main` if it is still where we looked, force
that to the disk, bring the folder and the index in step. Only then the entry is returned,
and only then may anybody print "recorded".
"""

from __future__ import annotations

import contextlib
import os
import random
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TypeVar

from dulwich.objects import Commit, ObjectID, Tree

from buildlog.errors import ChangedUnderYou, DiskError, UsageError, begun
from buildlog.records.toml.plain_text import clean
from buildlog.store.disk import atomic
from buildlog.store.disk.atomic import Locked
from buildlog.store.disk.lock import SPOOL, Held
from buildlog.store.git import index, message
from buildlog.store.git.digest import digest
from buildlog.store.git.repo import MAIN, Files, Repo


@dataclass(frozen=True)
class Step:
    """What brings the folder in step with new files: paths to write, to drop, and already equal."""

    write: tuple[bytes, ...]
    drop: tuple[bytes, ...]
    stats: Mapping[bytes, os.stat_result]


_Result = TypeVar("_Result")
_PATIENCE = 5.0  # seconds to wait for a git that holds the reference's lock


@dataclass(frozen=True)
class Recorder:
    """Who records and when. `now` is the clock of the act in the zone of who acts: its day is the
    day of the act, everywhere; the zone itself is never recorded.

    `sign` makes the signature of a commit's bytes, for its `gpgsig` header; `written_by` says
    which revision of the format the program knows (`records/fields/newer.py`).
    """

    shop: str
    now: datetime
    sign: Callable[[bytes], bytes] | None = None
    written_by: str | None = None


def identity(shop: str, ledger_id: str) -> bytes:
    """Author and committer: the shop, and an address that no mail ever reaches."""
    name = clean(shop, "the shop's name", longest=100)
    if not name or set(name) & set("<>"):
        raise UsageError(
            "the shop has no name that can be recorded", hint="set it in your settings: shop"
        )
    return f"{name} <ledger@{ledger_id[:8]}.invalid>".encode()


def commit_on(tree: ObjectID, parents: Sequence[str], by: bytes, when: int, text: bytes) -> Commit:
    """A commit by one identity; the zone is never recorded."""
    commit = Commit()
    commit.tree = tree
    commit.parents = [ObjectID(parent.encode()) for parent in parents]
    commit.author = commit.committer = by
    commit.author_time = commit.commit_time = when
    commit.author_timezone = commit.commit_timezone = 0
    commit.message = text
    return commit


def chained(
    repo: Repo, files: Files, parents: Sequence[str], by: bytes, when: int, text: bytes
) -> tuple[list[Tree], Commit]:
    """The trees and the commit of some files, with its digest; nothing is written."""
    trees = build_trees(files)
    before = [repo.digest_of(parent) for parent in parents]
    own = digest(before, by + f" {when} +0000".encode(), text, files, repo.content)
    return trees, commit_on(trees[-1].id, parents, by, when, message.sealed(text, own))


def build_trees(files: Files) -> list[Tree]:
    """The tree objects of a set of files, children before parents, the root last."""
    root = Tree()
    below: dict[bytes, Files] = {}
    for path, (mode, name) in files.items():
        head, slash, rest = path.partition(b"/")
        if slash:
            below.setdefault(head, {})[rest] = (mode, name)
        else:
            root.add(head, mode, ObjectID(name.encode()))
    trees = []
    for head, inner in below.items():
        built = build_trees(inner)
        trees += built
        root.add(head, 0o040000, built[-1].id)
    return [*trees, root]


@contextlib.contextmanager
def index_lock(repo: Repo, held: Held) -> Iterator[Locked]:
    """git's lock on the index, from before the tip is read until the new index is put.

    So no plain `git commit` can come between with the old index and undo an entry.
    """
    held.about_to_make("index.lock")
    lock = patiently(lambda: Locked(repo.git / "index"), repo.git / "index.lock")
    try:
        yield lock
    finally:
        lock.drop()


def publish(
    repo: Repo, folder: Path, held: Held, lock: Locked, old: str | None, name: str,
    files: Files, step: Step, then: Callable[[], None] = lambda: None,
) -> None:  # fmt: skip
    """Make a commit whose objects are on the disk the tip of `main`, and the folder fit it.

    `old`: the tip it follows; `then`: what is done once `main` has moved.
    Working files come before the index: were it ahead of them, an
    old file would look like an edit.
    """
    held.about_to_record(name)
    begun(f"the entry {name[:8]} is recorded", "nothing was recorded", lambda: repo.tip() == name)
    try:
        move(repo, held, MAIN, old, name)
        then()
        bring_in_step(repo, folder, files, step)
        lock.put(index.serialised(files, step.stats))
    except (OSError, ChangedUnderYou) as error:
        if isinstance(error, OSError) and repo.tip() == name:
            raise half_done(name, error) from error
        held.in_step()
        raise
    held.in_step()


def half_done(entry_id: str, error: OSError) -> DiskError:
    """The error for a fault after the entry was recorded."""
    return DiskError(
        f"the entry {entry_id[:8]} is recorded, but the folder is not in step with it: {error}",
        hint="free the disk; the next command that writes sets it right",
    )


def move(repo: Repo, held: Held, name: str, old: str | None, new: str) -> None:
    """Set a reference to `new` if it is still `old`; ChangedUnderYou if it is not."""
    lock = f"{name}.lock"
    held.about_to_make(lock)
    if not patiently(lambda: repo.move(name, old, new), repo.git / lock):
        raise ChangedUnderYou(
            "something else was recorded meanwhile", hint="look at it, then do it again"
        )


def patiently(attempt: Callable[[], _Result], lock: Path) -> _Result:
    """Try again while a git at work holds `lock`; ChangedUnderYou when it never lets go."""
    until = time.monotonic() + _PATIENCE
    while True:
        try:
            return attempt()
        except FileExistsError as error:
            if time.monotonic() > until:
                raise index.busy(lock) from error
            time.sleep(random.uniform(0.005, 0.05))


def bring_in_step(repo: Repo, folder: Path, files: Files, step: Step) -> None:
    """Write and remove working files that others recorded."""
    for path in step.write:
        place = folder / os.fsdecode(path)
        atomic.replace(place, repo.blob(files[path][1]), spool=repo.git / SPOOL)
    for path in step.drop:
        (folder / os.fsdecode(path)).unlink(missing_ok=True)
