"""The files on disk, not yet recorded, and how they join what others recorded meanwhile.

For each path there are three contents: the index (what the folder last agreed with), the
tip of `main`, and the disk. A file not edited since the index takes the tip's content; an
edited one whose tip did not move is recorded; both moved differently: refused, because
recording would undo what somebody else recorded.
"""

from __future__ import annotations

import os
import random
import stat
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from dulwich.objects import Blob

from buildlog.errors import ChangedUnderYou, DiskError, InvalidInput
from buildlog.store.disk.atomic import disk_errors
from buildlog.store.git import ledger_files
from buildlog.store.git.repo import REGULAR, Files

Keep = Callable[[str, str, bytes], None]  # path, object id, content
_ATTEMPTS = 50


@dataclass
class Working:
    """What a scan of the folder found."""

    files: dict[str, str] = field(default_factory=dict)  # path -> object id of the content
    stats: dict[bytes, os.stat_result] = field(default_factory=dict)  # taken before reading
    refused: dict[str, str] = field(default_factory=dict)  # path -> why it cannot be recorded
    left_alone: list[str] = field(default_factory=list)  # not recorded; folders end in "/"


@dataclass(frozen=True)
class Joined:
    """The files an entry would hold, and what the folder lacks of them."""

    files: Files
    fetch: tuple[bytes, ...]  # recorded by others: to be written to the folder
    drop: tuple[bytes, ...]  # deleted by others: to be removed from the folder
    edited: frozenset[bytes]  # differs from the tip because it was edited here


def blob_id(data: bytes) -> str:
    """The object id that git gives to a file's bytes."""
    return Blob.from_string(data).id.decode()


def scan(folder: Path, keep: Keep | None = None) -> Working:
    """Read the folder. Symbolic links are never followed; nothing but ordinary files is opened."""
    found = _looked_at(folder)
    for path in map(bytes.decode, found.stats):
        data = read(folder, path)
        found.files[path] = blob_id(data)
        if keep:
            keep(path, found.files[path], data)
    for one, other in ledger_files.twins(list(found.files)):
        found.refused[other] = f"differs from {one} in capitals only"
    return found


def scan_at_once(folder: Path, wanted: Callable[[str], bool]) -> tuple[Working, dict[str, bytes]]:
    """The folder as it stood at one moment, with the content of the files whose object id is
    wanted, by path. Read again while somebody writes in between."""
    for attempt in range(_ATTEMPTS):
        kept: dict[str, bytes] = {}

        def keep(path: str, name: str, data: bytes, kept: dict[str, bytes] = kept) -> None:
            if wanted(name):
                kept[path] = data

        try:
            found = scan(folder, keep)
            if _traces(found.stats) == _traces(_looked_at(folder).stats):
                return found, kept
        except DiskError:  # a file went while it was looked at; one that stays so is told
            if attempt + 1 == _ATTEMPTS:
                raise
        time.sleep(random.uniform(0, 0.002 * attempt))
    raise ChangedUnderYou(
        "the files are being written all the time", where=str(folder), hint="do it again"
    )


def traces_of(folder: Path) -> tuple[tuple[bytes, tuple[int, ...]], ...]:
    """What tells whether a file came, went or was written since; no file is opened."""
    return tuple(sorted(_traces(_looked_at(folder).stats).items()))


def _traces(stats: Mapping[bytes, os.stat_result]) -> dict[bytes, tuple[int, ...]]:
    """What tells a file that was written meanwhile."""
    return {
        path: (found.st_ino, found.st_size, found.st_mtime_ns, found.st_ctime_ns)
        for path, found in stats.items()
    }


def read(folder: Path, path: str) -> bytes:
    """The bytes of one file on disk; never through a link, never of a device."""
    flags = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
    flags |= getattr(os, "O_BINARY", 0)
    with disk_errors(f"reading {path}"):
        handle = os.open(folder / path, flags)
        with os.fdopen(handle, "rb") as file:
            if not stat.S_ISREG(os.fstat(handle).st_mode):
                raise InvalidInput("this is not an ordinary file", where=path)
            return file.read()


def join(bases: Sequence[Files], tip: Files, working: Working) -> Joined:
    """Merge the folder into the tip, path by path. ChangedUnderYou if both moved differently.

    `bases`: what the folder is known to have agreed with: the index, and the tip itself if it
    was recorded from this folder by a process that died before it could write the index.
    """
    disk = {path.encode(): (REGULAR, name) for path, name in working.files.items()}
    files = dict(tip)
    fetch: list[bytes] = []
    drop: list[bytes] = []
    edited: list[bytes] = []
    clashes: list[str] = []
    for path in sorted(set().union(tip, disk, *bases)):
        if ledger_files.kind_of(path.decode("utf-8", "surrogateescape")) is None:
            continue
        was = [_content(base, path) for base in bases]
        theirs, ours = _content(tip, path), _content(disk, path)
        if ours == theirs:
            continue
        if ours in was:
            (fetch if theirs else drop).append(path)
        elif theirs in was:
            edited.append(path)
            files.pop(path, None)
            files |= {path: disk[path]} if path in disk else {}
        else:
            clashes.append(path.decode("utf-8", "replace"))
    if clashes:
        raise _clash(clashes)
    return Joined(files, tuple(fetch), tuple(drop), frozenset(edited))


def _content(files: Files, path: bytes) -> str | None:
    found = files.get(path)
    return found[1] if found else None


def _clash(clashes: list[str]) -> ChangedUnderYou:
    named = ", ".join(clashes[:5]) + (" and others" if len(clashes) > 5 else "")
    return ChangedUnderYou(
        f"{named} was edited here, and meanwhile something else was recorded in it",
        hint="put your version aside, take the recorded one with `git restore --source main "
        f"{clashes[0]}`, and make your edit again",
    )


def _walk(folder: Path, prefix: str) -> Iterator[tuple[str, os.DirEntry[str]]]:
    for entry in sorted(os.scandir(folder / prefix), key=lambda item: item.name):
        path = prefix + entry.name
        if path == ".git":
            continue
        known = path in ledger_files.FOLDERS if not prefix else path.count("/") < 7
        if known and entry.is_dir(follow_symlinks=False) and not entry.name.startswith("."):
            yield from _walk(folder, path + "/")
        else:
            yield path, entry


def _looked_at(folder: Path) -> Working:
    """What a scan finds of the files without opening them."""
    found = Working()
    with disk_errors("reading the folder"):
        for path, entry in _walk(folder, ""):
            is_folder = entry.is_dir(follow_symlinks=False)
            is_recorded = not is_folder and ledger_files.kind_of(path) is not None
            if not is_recorded and not (entry.is_symlink() and path in ledger_files.FOLDERS):
                found.left_alone.append(path + ("/" if is_folder else ""))
            elif reason := ledger_files.refusal(path) or _content_refusal(entry):
                found.refused[path] = reason
            else:
                found.stats[path.encode()] = os.lstat(entry.path)
    return found


def _content_refusal(entry: os.DirEntry[str]) -> str | None:
    if entry.is_symlink():
        return "is a symbolic link, which is not followed"
    if not entry.is_file(follow_symlinks=False):
        return "is not an ordinary file"
    size = entry.stat(follow_symlinks=False).st_size
    if size > ledger_files.LARGEST_FILE:
        return f"is {size / 2**20:.0f} MB; {ledger_files.LARGEST_FILE // 2**20} MB is the largest"
    return None
