"""Packing a ledger's objects on request: smaller and faster to copy, the same history.

What nothing leads to is kept: a file service may have let another side's branch win, and then
an entry that was recorded stands beside the history.
"""

from __future__ import annotations

import os
import subprocess
from dataclasses import dataclass
from pathlib import Path

from buildlog.errors import DamagedLedger
from buildlog.programs import program
from buildlog.store.disk.lock import hold
from buildlog.store.git import packs
from buildlog.store.git.repo import Repo
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.verify import check_objects, check_repository

_SECONDS = 600.0
_GIT_LOCKS = ("packed-refs.lock", "gc.pid.lock")


@dataclass(frozen=True)
class Packed:
    """What packing did: who did it, bytes and files before and after."""

    by: str
    bytes_before: int
    bytes_after: int
    files_before: int
    files_after: int


def pack(ledger: Ledger) -> Packed:
    """Pack under the lock: by git if it is there and nothing in the repository could turn it."""
    git = ledger.repo.git
    with hold(git, doing="packing the ledger") as held:
        before = _size(git / "objects")
        for name in _GIT_LOCKS:
            held.about_to_make(name)
        by = _pack(ledger.folder, check_repository.is_hostile(ledger.repo))
    with Repo(ledger.folder) as fresh:
        faults = list(check_objects.pack_faults(fresh))
    if faults:
        raise DamagedLedger(faults[0].text, hint="restore it from a copy")
    after = _size(git / "objects")
    return Packed(by, before[0], after[0], before[1], after[1])


def _pack(folder: Path, hostile: bool) -> str:
    git = None if hostile else program("git")
    if git is not None:
        keep = {key: os.environ[key] for key in ("PATH", "SYSTEMROOT", "TEMP") if key in os.environ}
        own = {"GIT_CONFIG_GLOBAL": os.devnull, "GIT_CONFIG_NOSYSTEM": "1", "LC_ALL": "C"}
        done = subprocess.run(
            [git, "-C", str(folder), "-c", "core.fsync=all", "repack", "-a", "-d", "-k", "-q"],
            env={**keep, **own}, capture_output=True, timeout=_SECONDS, check=False,
        )  # fmt: skip
        if done.returncode == 0:
            return "git"
    try:
        with Repo(folder) as repo:
            repo.objects.pack_loose_objects()
            packs.gather(repo.git, repo.objects, least=2)
    except OSError:
        raise
    except Exception as error:  # whatever it stumbles over in a damaged repository
        what = f"the repository cannot be packed ({type(error).__name__}: {error})"[:200]
        raise DamagedLedger(what, hint="run buildlog verify; nothing was changed") from error
    return "dulwich"


def _size(folder: Path) -> tuple[int, int]:
    sizes = [path.stat().st_size for path in folder.rglob("*") if path.is_file()]
    return sum(sizes), len(sizes)
