"""Working files edited in memory: nothing reaches the disk before they are recorded."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from typing import NoReturn

from buildlog.errors import ChangedUnderYou, InvalidInput
from buildlog.records.toml.toml_place import Place
from buildlog.store.git.message import EntryFacts
from buildlog.store.ledger.append import Recorder
from buildlog.store.ledger.entries import Entry
from buildlog.store.ledger.ledger import Ledger, Prepare, refuse_path
from buildlog.store.ledger.names import WORKING, NamedVersion
from buildlog.store.ledger.pinned import PinnedReader
from buildlog.store.ledger.proposal import Edits, EntryProposal
from buildlog.store.ledger.session_files import SESSION, refuse_taken
from buildlog.store.ledger.working import Working, blob_id


class Draft(PinnedReader, Ledger):
    """A ledger whose working files are edited in memory.

    What writes working files through a `Ledger` writes here, and what reads them reads what was
    written. `record` takes the lock, and records all of it if head and working files are still
    those that were seen when the draft was begun: else ChangedUnderYou, and nothing changed.
    """

    def __init__(self, of: PinnedReader) -> None:
        super().__init__(of, of)
        self.head, self._plans = of.head, of.plans()
        self._disk = of._at_once()
        self.edited: dict[str, bytes] = {}

    def working(self) -> Working:
        found = super().working()
        ids = {path: blob_id(data) for path, data in self.edited.items()}
        return dataclasses.replace(found, files={**found.files, **ids})

    def read(self, version: NamedVersion | Entry, path: str) -> bytes:
        held = self.edited.get(path) if version.tree is None else None
        return super().read(version, path) if held is None else held

    # writing, in memory

    def write_working(self, path: str, data: bytes, *, expect: bytes | None = None) -> None:
        """Replace a working file; with `expect`, only if it holds that."""
        refuse_path(path)
        there = path in self.working().files
        if expect is not None and there and self.read(WORKING, path) != expect:
            raise ChangedUnderYou("the file was changed meanwhile", where=path, hint="do it again")
        self.edited[path] = data

    def change_working(
        self, path: str, edit: Callable[[bytes], bytes], seen: bytes, places: Sequence[Place]
    ) -> tuple[bytes, bytes]:
        """Edit a working file; nobody else edits this draft."""
        before = self.read(WORKING, path)
        after = edit(before)
        self.write_working(path, after, expect=before)
        return before, after

    def write_session(
        self, session: str, files: Mapping[str, bytes], text: bytes, before: bytes | None
    ) -> None:
        """A session's new files and its session.toml; `before` is what that file held, if any."""
        place, known = f"dyno/{session}", self.working().files
        if before is None and any(path.startswith(f"{place}/") for path in known):
            raise refuse_taken(session)
        if before is not None and self.read(WORKING, f"{place}/{SESSION}") != before:
            raise ChangedUnderYou("session.toml was changed meanwhile", hint="do it again")
        new = {name: data for name, data in files.items() if f"{place}/{name}" not in known}
        for name, data in {**new, SESSION: text}.items():
            self.write_working(f"{place}/{name}", data)

    # recording

    def propose(self, only: Sequence[str] | None = None) -> EntryProposal:
        return self._as_meant().propose(only)

    def record(
        self, facts: EntryFacts, by: Recorder, prepare: Prepare | None = None,
        only: Sequence[str] | None = None,
    ) -> Entry:  # fmt: skip
        return self._as_meant().record(facts, by, prepare, only)

    def _as_meant(self) -> Ledger:
        """The ledger itself, with what is to be recorded and what it was meant for."""
        edits = Edits(self.head, self._at_once()[0].files, dict(self.edited))
        return Ledger(self.folder, self.repo, edits)

    def writing(self) -> NoReturn:
        raise InvalidInput("a draft writes nothing but what it records")
