"""Ledgers kept open between questions: one snapshot each, for as long as nothing changes."""

from __future__ import annotations

import hashlib
import threading
import weakref
from collections import OrderedDict
from pathlib import Path

from buildlog.desk.snapshot import opening
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.store.ledger.working import traces_of

_KEPT = 32  # ledgers; the one that was asked for longest ago goes first
_AWAKE = 4  # of them hold the files of their packs open: a process may open no more than it may
_Seen = tuple[object, ...]


class KeptOpen:
    """The newest snapshot of each ledger; threads may share it.

    What a ledger is known by is compared by equality, never by time: its newest entry, its plans,
    and of each working file inode, size and stamps, so that a file put back with an older date
    is seen as well.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._held: OrderedDict[Path, tuple[_Seen, Snapshot]] = OrderedDict()

    def snapshot(self, folder: Path) -> Snapshot:
        """The ledger in this folder as it stands now."""
        reader = opening.reader(folder)
        seen: _Seen = (reader.repo.tip(), tuple(sorted(reader.plans().items())), traces_of(folder))
        with self._lock:
            known = self._held.get(folder)
            if known and known[0] == seen:
                reader.close()
                self._held.move_to_end(folder)
                return known[1]
        newer = Snapshot(reader, known=known[1] if known else None)
        weakref.finalize(newer, reader.repo.close)  # once nobody asks it any more
        newer.ledger.working()  # as it was just looked at, or newer: the next look tells
        with self._lock:
            resting = [self._held[folder][1]] if folder in self._held else []
            self._held[folder] = (seen, newer)
            self._held.move_to_end(folder)
            while len(self._held) > _KEPT:
                resting.append(self._held.popitem(last=False)[1][1])
            resting += [book for _, book in list(self._held.values())[:-_AWAKE]]
        for book in resting:  # whoever still asks one of them has its files opened again
            book.ledger.repo.objects.close()
        return newer

    def close(self) -> None:
        """Let go of all of them."""
        with self._lock:
            for _, book in self._held.values():
                book.ledger.close()
            self._held.clear()

    def state(self, folder: Path) -> tuple[str, str]:
        """Head, or "" before anything is recorded, and a digest of the working files."""
        book = self.snapshot(folder)
        return book.head or "", book.once("digest of the working files", lambda: _digest(book))


def is_ledger(folder: Path) -> bool:
    """Whether a ledger lies in exactly this folder."""
    return (folder / ".git").exists() and (folder / "car.toml").exists()


def working_bytes(book: Snapshot, path: str) -> bytes | None:
    """The bytes of a working file by its path; None where there is none of this path."""
    from buildlog.store.ledger.names import WORKING

    known = path in book.ledger.working().files
    return book.ledger.read(WORKING, path) if known else None


def _digest(book: Snapshot) -> str:
    files = sorted(book.ledger.working().files.items())
    return hashlib.sha256("\n".join(f"{name} {path}" for path, name in files).encode()).hexdigest()
