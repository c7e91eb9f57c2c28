"""Removing what a dead process of ours left behind; only ever called under our lock.

A lock file of git's may also belong to a git at work in this folder, which must not be
robbed. So a file is swept only if
- it is a draft in our spool, or
- a note left by a dead process of ours names it, and it was made when that note says, or
- it is older than the computer's last start: no process survives that.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from pathlib import Path

from buildlog.store.disk.lock import LOCK, Held, Holder
from buildlog.store.git.repo import SPOOL

_SLACK = 60.0  # seconds between the note and the lock file it announces


def sweep(git: Path, held: Held) -> list[Path]:
    """Remove stale lock files and drafts; returns what was removed."""
    stale = [path for path in _locks(git) if _is_stale(git, path, held.dead)]
    stale += (git / SPOOL).glob("*")
    for path in stale:
        with contextlib.suppress(OSError):
            path.unlink()
    return stale


def _locks(git: Path) -> Iterator[Path]:
    yield from (path for path in git.glob("*.lock") if path.name != LOCK)
    for folder, _, names in os.walk(git / "refs"):
        yield from (Path(folder, name) for name in names if name.endswith(".lock"))


def _is_stale(git: Path, path: Path, dead: Holder | None) -> bool:
    try:
        made = path.lstat().st_mtime
    except OSError:
        return False
    if made < _last_start():
        return True
    announced = dead.making.get(path.relative_to(git).as_posix()) if dead else None
    return announced is not None and abs(made - announced) < _SLACK


def _last_start() -> float:
    """When the computer started, in seconds since 1970; 0 where that cannot be known."""
    with contextlib.suppress(OSError, ValueError, StopIteration):
        for line in Path("/proc/stat").read_text().splitlines():
            if line.startswith("btime "):
                return float(line.split()[1])
    return 0.0
