"""git's index: what the folder held when it was last in step with the ledger.

It is the common base when the working files and `main` have both moved on, and it is
kept equal to the tip, so that `git status` is clean and a plain `git commit` cannot
bring old files back.
"""

from __future__ import annotations

import io
import os
import time
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from dulwich.objects import ObjectID

from buildlog.errors import ChangedUnderYou
from buildlog.store.git.repo import REGULAR, Files

if TYPE_CHECKING:
    from dulwich.index import IndexEntry

# dulwich.index is imported where it is used: most commands only look at a ledger.


def read(git: Path) -> Files | None:
    """Path -> mode and object id; None when the index is missing or cannot be read."""
    from dulwich.index import ConflictedIndexEntry, Index, IndexEntry

    path = git / "index"
    if not path.exists():
        return None
    try:
        entries = dict(Index(path).items())
    except Exception:
        return None
    if any(isinstance(entry, ConflictedIndexEntry) for entry in entries.values()):
        raise ChangedUnderYou(
            "a plain git merge was begun in this folder and isn't finished",
            where=str(path),
            hint="finish it, or give it up with `git merge --abort`",
        )
    return {
        name: (entry.mode, entry.sha.decode())
        for name, entry in entries.items()
        if isinstance(entry, IndexEntry)
    }


def serialised(files: Files, stats: Mapping[bytes, os.stat_result]) -> bytes:
    """An index that equals `files`. `stats`: of the paths whose file on disk has that content."""
    from dulwich.index import IndexChecksumWriter, write_index_dict

    buffer = io.BytesIO()
    checked = IndexChecksumWriter(buffer)
    entries = {
        name: _entry(mode, object_id, stats.get(name) if mode == REGULAR else None)
        for name, (mode, object_id) in files.items()
    }
    write_index_dict(checked, entries, version=2)
    checked.write_checksum()
    return buffer.getvalue()


def busy(lock: Path) -> ChangedUnderYou:
    """The error for one of git's lock files that somebody else holds."""
    return ChangedUnderYou(
        "a git at work in this folder holds a lock",
        where=f"{lock}, {_age(lock)}",
        hint="wait until it has finished; if no git is running, delete this file",
    )


def _age(lock: Path) -> str:
    try:
        seconds = max(time.time() - lock.lstat().st_mtime, 0)
    except OSError:
        return "gone meanwhile"
    return f"{seconds:.0f} s old" if seconds < 120 else f"{seconds / 60:.0f} min old"


def _entry(mode: int, object_id: str, found: os.stat_result | None) -> IndexEntry:
    from dulwich.index import IndexEntry, index_entry_from_stat

    oid = ObjectID(object_id.encode())
    if found is not None:
        return index_entry_from_stat(found, oid, mode=mode)
    # zeros make git compare the content itself
    return IndexEntry((0, 0), (0, 0), 0, 0, mode, 0, 0, 0, oid)
