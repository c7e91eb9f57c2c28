"""A ledger as it stands at one moment, whatever is recorded, packed or edited meanwhile."""

from __future__ import annotations

import threading
from typing import Self

from buildlog.errors import DamagedLedger
from buildlog.store.ledger.entries import Entry
from buildlog.store.ledger.names import WORKING, NamedVersion
from buildlog.store.ledger.reader import Reader
from buildlog.store.ledger.working import Working, blob_id, scan_at_once


class PinnedReader(Reader):
    """One ledger, to be read as it stood when this was made.

    Its entries are those of the head it was made at. The working files are read when they are
    first asked for, all at one moment; so are the plans. Threads may share it. It uses the other
    reader's repository, and closing it closes both.
    """

    def __init__(self, of: Reader, known: PinnedReader | None = None) -> None:
        super().__init__(of.folder, of.repo)
        self.recalls = of.recalls
        self._alone = threading.RLock()
        self._disk: tuple[Working, dict[str, bytes]] | None = None
        self._known = (known or of)._known
        self._plans: dict[str, str] | None = None
        self.head = of.repo.tip()
        """The id of the newest entry, or of a merge above it; None before anything is recorded."""

    @classmethod
    def of(cls, ledger: Reader, known: PinnedReader | None = None) -> Self:
        """A reader that is pinned already, or one made of the ledger now."""
        return ledger if isinstance(ledger, cls) else cls(ledger, known)

    def plans(self) -> dict[str, str]:
        with self._alone:
            if self._plans is None:
                self._plans = super().plans()
            return self._plans

    def working(self) -> Working:
        return self._at_once()[0]

    def content_id(self, version: NamedVersion | Entry, path: str) -> str | None:
        """The object id of one file, a working one's too; None where it is not there."""
        if version.tree is None:
            return self.working().files.get(path)
        return super().content_id(version, path)

    def read(self, version: NamedVersion | Entry, path: str) -> bytes:
        wanted = self.working().files.get(path) if version.tree is None else None
        if wanted is None:
            return super().read(version, path)
        held = self._at_once()[1].get(path)
        return self._recorded_one(wanted, path) if held is None else held

    # inside

    def _history(self) -> list[Entry]:
        with self._alone:
            return self._until(self.head)

    def _at_once(self) -> tuple[Working, dict[str, bytes]]:
        """The working files, with the bytes of those that the newest entry does not hold."""
        with self._alone:
            if self._disk is None:
                known = self._history()
                recorded = set(self.files(known[-1]).values()) if known else set()
                self._disk = scan_at_once(self.folder, lambda name: name not in recorded)
            return self._disk

    def _recorded_one(self, wanted: str, path: str) -> bytes:
        """A working file that is as recorded; from the disk only where the object is damaged."""
        try:
            return self.repo.blob(wanted)
        except DamagedLedger:
            found = super().read(WORKING, path)
            if blob_id(found) != wanted:
                raise
            return found
