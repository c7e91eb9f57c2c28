"""Small files of this computer's own, beside no ledger: read, and written whole for us alone."""

from __future__ import annotations

import os
from pathlib import Path

from buildlog.store.disk import atomic
from buildlog.store.disk.user_folders import state_folder


def folder(name: str) -> Path:
    """A folder of the user's state folder, made for us alone."""
    place = state_folder() / name
    with atomic.disk_errors("making the state folder"):
        place.mkdir(parents=True, exist_ok=True, mode=0o700)
    return place


def read(place: Path) -> bytes | None:
    """The bytes of a file; None where there is none."""
    try:
        return place.read_bytes()
    except FileNotFoundError:
        return None


def write(place: Path, data: bytes) -> None:
    """Write a file whole or not at all, that nobody else may read."""
    with atomic.disk_errors(f"writing {place.name}"):
        if not place.exists():
            os.close(os.open(place, os.O_WRONLY | os.O_CREAT, 0o600))
        place.chmod(0o600)
        atomic.replace(place, data)
