"""Files that are made for others: pictures, sheets, calendars, each whole or not there."""

from __future__ import annotations

from pathlib import Path

from buildlog.errors import DiskError
from buildlog.store.disk import atomic


def refuse_nowhere(out: Path) -> None:
    """DiskError where its folder does not exist: a slip of the pen must not leave folders."""
    if not out.parent.is_dir():
        hint = f"make the folder {out.parent} first, or choose another place"
        raise DiskError(f"{out} cannot be written: its folder does not exist", hint=hint)


def put(out: Path, data: bytes, what: str) -> None:
    """Write it, forced to the disk; what was there before stays until all of it is."""
    refuse_nowhere(out)
    with atomic.disk_errors(f"writing {what}"):
        atomic.replace(out, data)
