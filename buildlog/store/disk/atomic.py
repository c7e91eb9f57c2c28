"""Files that are either whole and on the disk, or as they were before.

A file is written beside its place or in a folder of the same disk, forced to the
disk, and moved over the old one; then the folder itself is forced to the disk,
because a rename that only lives in memory is lost with the power.
"""

from __future__ import annotations

import contextlib
import errno
import os
import shutil
import stat
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import BinaryIO

from buildlog.errors import DiskError
from buildlog.store.disk import drafts

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]

_NEW = 0o644  # the mode of a file that was not there
_OPEN = "another program has it open, and Windows does not let it be replaced: close it there"
_PATIENCE = 2.0  # seconds to wait for a program that has the old file open

_HINTS = {
    errno.ENOSPC: "free some space on the disk and do it again",
    errno.EDQUOT: "free some space on the disk and do it again",
    errno.EFBIG: "the disk's file system refuses a file of this size",
    errno.EROFS: "the disk is read-only: copy the ledger to a disk that can be written",
    errno.EACCES: "ask for write permission on this folder",
    errno.EPERM: "ask for write permission on this folder",
    errno.EIO: "the disk reports a fault: copy the ledger to another disk before anything else",
}


@contextlib.contextmanager
def disk_errors(doing: str) -> Iterator[None]:
    """Turn an operating-system error into a DiskError that says what was being done."""
    try:
        yield
    except OSError as error:
        reason = error.strerror or str(error)
        named = os.fsdecode(error.filename) if isinstance(error.filename, str | bytes) else None
        hint = _HINTS.get(error.errno or 0, "see that the disk is there and can be written")
        raise DiskError(f"{doing} failed: {reason.lower()}", where=named, hint=hint) from error


def fsync(handle: int) -> None:
    """Force a file to the disk itself, past the disk's own memory where the system can (macOS)."""
    full = getattr(fcntl, "F_FULLFSYNC", None) if fcntl else None
    if full is not None:
        try:
            fcntl.fcntl(handle, full)
            return
        except OSError:  # a disk of a kind that does not know it
            pass
    os.fsync(handle)


def fsync_folder(folder: str | os.PathLike[str]) -> None:
    """Force a folder's list of names to the disk (Windows has no such call and needs none)."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        fsync(handle)
    finally:
        os.close(handle)


def make_folder(folder: Path) -> None:
    """Make a folder and those above it; each new name is forced to the disk."""
    missing = []
    while not folder.is_dir():
        missing.append(folder)
        folder = folder.parent
    for new in reversed(missing):
        new.mkdir(exist_ok=True)
        fsync_folder(new.parent)


def mode_of(path: Path) -> int:
    """The mode of an ordinary file, or that of a new one."""
    try:
        found = path.lstat().st_mode
    except OSError:
        return _NEW
    return stat.S_IMODE(found) if stat.S_ISREG(found) else _NEW


def move_over(draft: Path, path: Path) -> None:
    """Move a file to its place, over what is there."""
    _held_open(lambda: os.replace(draft, path), path)


def move_folder(draft: Path, path: Path) -> None:
    """Move a folder to where there is nothing; OSError where something is."""
    _held_open(lambda: os.rename(draft, path), path)


def _held_open(act: Callable[[], None], path: Path) -> None:
    """Windows refuses while another program has the file open: try again for a moment, then say
    so."""
    until = time.monotonic() + _PATIENCE
    while True:
        try:
            return act()
        except PermissionError as error:
            if os.name != "nt":
                raise
            if time.monotonic() > until:
                raise PermissionError(error.errno, _OPEN, str(path)) from error
            time.sleep(0.05)


def append(path: Path, data: bytes) -> None:
    """Add to a file of lines, forced to the disk; a line cut short by a death is ended first."""
    make_folder(path.parent)
    is_new = not path.exists()
    if not is_new and path.stat().st_nlink > 1:  # a copy made of links must not grow with it
        replace(path, path.read_bytes())
    with path.open("ab+") as file:
        if not is_new and file.seek(0, os.SEEK_END):
            file.seek(-1, os.SEEK_END)
            data = data if file.read(1) == b"\n" else b"\n" + data
        file.write(data)
        file.flush()
        fsync(file.fileno())
    if is_new:
        fsync_folder(path.parent)


def replace(path: Path, data: bytes, *, spool: Path | None = None, settle: bool = True) -> None:
    """Write `data` to `path`, whole or not at all; the draft lies in `spool`, of the same disk.

    A file that is there keeps its mode. `settle=False` leaves it to the caller to force the
    folder to the disk. Whoever holds the ledger's lock sweeps a spool; what a dead process left
    in another folder goes with the next write there.
    """
    make_folder(path.parent)
    folder = path.parent if spool is None else spool
    make_folder(folder)
    if spool is None:
        drafts.sweep(folder)
    draft = folder / drafts.name(path.name)
    try:
        _write_new(draft, data, mode_of(path))
        move_over(draft, path)
    except BaseException:
        with contextlib.suppress(OSError):
            draft.unlink()
        raise
    if settle:
        fsync_folder(path.parent)


def copy(source: Path, path: Path) -> None:
    """Copy a file of any size to a place, whole or not at all; what a dead process left of its
    copy there is swept."""
    make_folder(path.parent)
    drafts.sweep(path.parent)
    draft = path.parent / drafts.name(path.name)
    try:
        with source.open("rb") as old, draft.open("xb") as new:
            shutil.copyfileobj(old, new, 1 << 20)
            new.flush()
            fsync(new.fileno())
        move_over(draft, path)
    except BaseException:
        with contextlib.suppress(OSError):
            draft.unlink()
        raise
    fsync_folder(path.parent)


class Locked:
    """A new file by git's own rule: the draft is `path`.lock, and its existence is the lock.

    FileExistsError if somebody else holds it. `put` fills it and moves it into place; `drop`
    gives up, and does nothing after `put`.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.lock = path.with_name(path.name + ".lock")
        flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
        self._file: BinaryIO | None = os.fdopen(os.open(self.lock, flags, 0o644), "wb")

    def put(self, data: bytes) -> None:
        if self._file is None:
            raise ValueError(f"{self.path} was put or dropped already")
        with self._file as file:
            file.write(data)
            file.flush()
            fsync(file.fileno())
        move_over(self.lock, self.path)
        self._file = None
        fsync_folder(self.path.parent)

    def drop(self) -> None:
        if self._file is not None:
            self._file.close()
            self._file = None
            with contextlib.suppress(OSError):
                self.lock.unlink()


def _write_new(path: Path, data: bytes, mode: int) -> None:
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    handle = os.open(path, flags, _NEW)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            if mode != _NEW:
                path.chmod(mode)
            fsync(file.fileno())
    except BaseException:
        with contextlib.suppress(OSError):
            path.unlink()
        raise
