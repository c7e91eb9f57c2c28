"""Files that are kept outside of every ledger: too large for one, or personal.

They lie in one place of the user's, by their SHA-256, so that a car's folder may move, and what
several ledgers name is there once. A ledger holds their digest and size alone.
"""

from __future__ import annotations

import contextlib
import hashlib
from dataclasses import dataclass
from pathlib import Path

from buildlog.store.disk import atomic
from buildlog.store.disk.user_folders import outside_folder

_CHUNK = 1 << 20


@dataclass(frozen=True)
class KeptFile:
    """A file in its place outside."""

    path: Path
    sha256: str
    size: int


def put(source: Path) -> KeptFile:
    """Copy a file to its place, whole and forced to the disk; one that is there stays."""
    with atomic.disk_errors("copying a file to its place outside"):
        digest, size = _digest(source)
        place = _folder(digest) / f"{digest}{source.suffix[:12]}"
        if not (place.is_file() and _digest(place)[0] == digest):
            atomic.copy(source, place)
        return KeptFile(place, digest, size)


def find(sha256: str) -> Path | None:
    """Where a file lies; None where it is not in the place of this user."""
    with contextlib.suppress(OSError):
        return next(iter(sorted(_folder(sha256).glob(f"{sha256}*"))), None)
    return None


def is_whole(path: Path, sha256: str) -> bool:
    """Whether a file has these bytes; False where it cannot be read."""
    with contextlib.suppress(OSError):
        return _digest(path)[0] == sha256
    return False


def delete(sha256: str) -> bool:
    """Delete a file for good, and force that to the disk; whether there was one."""
    path = find(sha256)
    if path is None:
        return False
    with atomic.disk_errors("deleting a file outside"):
        path.unlink()
        atomic.fsync_folder(path.parent)
    return True


def _folder(sha256: str) -> Path:
    return outside_folder() / sha256[:2]


def _digest(path: Path) -> tuple[str, int]:
    found, size = hashlib.sha256(), 0
    with path.open("rb") as file:
        while chunk := file.read(_CHUNK):
            found.update(chunk)
            size += len(chunk)
    return found.hexdigest(), size
