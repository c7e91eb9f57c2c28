"""One writer at a time: our own lock, held for a whole operation, and who holds it.

The lock is the operating system's and falls when its process dies. Beside it lies the
holder's note: process, user, computer, since when, and which of git's lock files it is
about to make. A note that is still there when the lock is free was left by a dead
process of ours: the next writer reads in it what may be swept away. The note stays inside
`.git`; none of it ever enters an entry.

A lock file of git's may also belong to a git at work in this folder, which must not be
robbed. So what lies there is swept only if
- it is a draft in our spool, or the `.keep` of a pack of ours: we hold the lock, or
- a note left by a dead process of ours names it, and it was made when that note says, or
- it is older than the computer's last start: no process survives that.
"""

from __future__ import annotations

import contextlib
import getpass
import json
import os
import platform
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import BinaryIO

from buildlog.errors import BuildlogError, ChangedUnderYou
from buildlog.store.disk.atomic import disk_errors
from buildlog.store.disk.start_of_computer import last_start

LOCK = "buildlog.lock"
HOLDER = "buildlog.holder"
KEPT = b"being recorded by buildlog\n"  # what stands in the `.keep` of a pack of ours
SPOOL = "buildlog-spool"  # below .git: where drafts of files lie
_SLACK = 60.0  # seconds between the note and the lock file it announces
_NOTE_SIZE = 4096  # one write of a fixed size: a kill leaves the old note or the new one


@dataclass(frozen=True)
class Holder:
    """Who holds, or held, the lock, and what it was about to do.

    `making`: git's lock files it was about to make, and when. `entry`: the entry it was about
    to record from this folder; if that became the tip, the folder knows it, whatever git's
    index says.
    """

    process: int
    user: str
    computer: str
    since: float
    making: dict[str, float] = field(default_factory=dict)
    entry: str = ""

    def in_words(self) -> str:
        since = datetime.fromtimestamp(self.since, UTC).strftime("%Y-%m-%d %H:%M:%S UTC")
        return f"process {self.process} of {self.user} on {self.computer} (since {since})"


class LedgerBusy(ChangedUnderYou):
    """Another process holds the lock, and did not let go in time: nothing was looked at."""


class Held:
    """The lock in our hands. `dead` is the note of a process of ours that died while writing."""

    def __init__(self, git: Path) -> None:
        self.dead = read_holder(git)
        self._path = git / HOLDER
        self._note: BinaryIO = open(self._path, "wb", buffering=0)  # noqa: SIM115
        pending = self.dead.entry if self.dead else ""
        self._holder = Holder(
            os.getpid(), _user(), platform.node() or "?", time.time(), entry=pending
        )
        self._write(self._holder)

    def about_to_make(self, name: str) -> None:
        """Note that git's lock file `name` (below .git) is about to be made by us."""
        self._holder.making[name] = time.time()
        self._write(self._holder)

    def about_to_record(self, entry_id: str) -> None:
        """Note that the folder is about to become this entry."""
        self._holder = replace(self._holder, entry=entry_id)
        self._write(self._holder)

    def in_step(self) -> None:
        """Note that git's index agrees with the folder again."""
        self.about_to_record("")

    def close(self) -> None:
        """Take the note away, unless the index is still behind: the next writer must know."""
        self._note.close()
        if not self._holder.entry:
            with contextlib.suppress(OSError):
                self._path.unlink()

    def _write(self, holder: Holder) -> None:
        self._note.seek(0)
        self._note.write(json.dumps(asdict(holder)).encode().ljust(_NOTE_SIZE))


@contextlib.contextmanager
def hold(git: Path, timeout: float = 30.0, doing: str = "writing the ledger") -> Iterator[Held]:
    """Hold the ledger's lock, with what a dead process of ours left behind swept away.

    LedgerBusy, naming the holder, when it isn't free in time; a disk's error while it is
    held says what was being done.
    """
    from filelock import FileLock, Timeout  # who only looks does not wait for its import

    lock = FileLock(git / LOCK, thread_local=False)
    with disk_errors("taking the ledger's lock"):
        try:
            lock.acquire(timeout=timeout, poll_interval=0.02)
        except Timeout as error:
            raise _busy(git) from error
    try:
        with disk_errors("noting who holds the ledger's lock"):
            held = Held(git)
        try:
            with disk_errors(doing):
                sweep(git, held)
                yield held
        finally:
            held.close()
    finally:
        lock.release()


def tidy(git: Path) -> None:
    """Sweep what a dead process of ours left, where somebody only looks; never waits for it."""
    left = (
        any((git / SPOOL).glob("*"))
        or (git / HOLDER).exists()
        or any(_is_ours(path) for path in (git / "objects/pack").glob("*.keep"))
    )
    if left:
        with contextlib.suppress(BuildlogError, OSError), hold(git, 0.0):
            pass


def read_holder(git: Path) -> Holder | None:
    """The holder's note; None if there is none. A torn note still says that somebody died."""
    try:
        text = (git / HOLDER).read_bytes()
    except OSError:
        return None
    try:
        found = Holder(**json.loads(text))
        return found if isinstance(found.making, dict) else Holder(0, "?", "?", 0.0)
    except (ValueError, TypeError):
        return Holder(0, "?", "?", 0.0)


def _busy(git: Path) -> LedgerBusy:
    holder = read_holder(git)
    who = holder.in_words() if holder else "another process"
    return LedgerBusy(
        f"the ledger is held by {who}",
        where=str(git / LOCK),
        hint="wait until it has finished and do it again",
    )


def _user() -> str:
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        return "?"


def sweep(git: Path, held: Held) -> list[Path]:
    """Remove stale lock files and drafts; returns what was removed."""
    stale = [path for path in _locks(git) if _is_stale(git, path, held.dead)]
    stale += (git / SPOOL).glob("*")
    stale += (path for path in (git / "objects/pack").glob("*.keep") if _is_ours(path))
    for path in stale:
        with contextlib.suppress(OSError):
            path.unlink()
    return stale


def _is_ours(keep: Path) -> bool:
    try:
        return keep.read_bytes() == KEPT
    except OSError:
        return False


def _locks(git: Path) -> Iterator[Path]:
    yield from (path for path in git.glob("*.lock") if path.name != LOCK)
    for folder, _, names in os.walk(git / "refs"):
        yield from (Path(folder, name) for name in names if name.endswith(".lock"))


def _is_stale(git: Path, path: Path, dead: Holder | None) -> bool:
    try:
        made = path.lstat().st_mtime
    except OSError:
        return False
    if made < last_start():
        return True
    announced = dead.making.get(path.relative_to(git).as_posix()) if dead else None
    return announced is not None and abs(made - announced) < _SLACK
