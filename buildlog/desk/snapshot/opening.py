"""Opening a ledger: to write in it, to read it, as a snapshot; and the units it is shown in."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from buildlog.desk.snapshot import settings
from buildlog.errors import NotFound
from buildlog.units import System

if TYPE_CHECKING:
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.findings import Finding
    from buildlog.store.ledger.ledger import Ledger as Ledger
    from buildlog.store.ledger.reader import Reader as Reader


def ledger(folder: Path | None = None) -> Ledger:
    """The ledger in a folder or in the nearest one above it; without one, the present folder."""
    from buildlog.store.ledger.ledger import Ledger

    found = Ledger.find(_place(folder))
    found.tidy()
    return found


def reader(folder: Path | None = None) -> Reader:
    """The same ledger for who only looks: what writing needs is not loaded, and what was read
    before may come from the index."""
    from buildlog.store.ledger.reader import Reader

    found = Reader.find(_place(folder))
    found.tidy()
    found.recalls = True
    return found


def snapshot(folder: Path | None = None) -> Snapshot:
    """The same, read for the analysis. Close it, or use it in a `with`."""
    from buildlog.desk.snapshot.snapshot import Snapshot

    return Snapshot(reader(folder))


def beside(ledger: Reader) -> list[Finding]:
    """What was recorded in this folder and stands beside its history, or is nowhere in it."""
    from buildlog.store.ledger import recorded as lists

    return lists.findings(ledger.repo, ledger.entries())


def how_kept(ledger: Reader) -> list[Finding]:
    """Whether another copy holds the newest entry, and when all of it was verified last."""
    from buildlog.findings import Finding
    from buildlog.store.ledger import copies

    history = ledger.entries()
    if not history:
        return []
    known, newest, found = copies.known(ledger.folder), history[-1], []
    if not copies.hold_it(ledger.repo, known, ledger.newest()):
        alone = "no other copy is known" if not known else "no other copy is known to hold it"
        text = f"entry {newest.number} ({newest.short}) exists in this folder alone: {alone}"
        found.append(Finding("only-copy", "note", text, hint="buildlog sync FOLDER makes one"))
    seen = copies.last_verified(ledger.repo)
    if seen is None:
        found.append(Finding("verified", "note", "never verified here", hint="buildlog verify"))
    else:
        since = "" if seen[1] == ledger.newest() else ", and entries came since"
        text = f"verify ran last on {seen[0]}: {seen[2]}{since}"
        found.append(Finding("verified", "note", text, hint="buildlog verify" if since else None))
    return found


def recorded(ledger: Reader) -> Snapshot:
    """What is recorded of a ledger: files on the disk that are not yet recorded stay out."""
    from buildlog.desk.snapshot.snapshot import Snapshot

    return Snapshot(ledger, recorded_only=True)


def units_of(held: Reader | None, asked: str | None = None) -> System:
    """The units of results: as asked for, as the user set, else the author's own."""
    # As odometers were written, newest first; the history is read once one is asked for.
    written = (e.odometer for reader in (held,) if reader for e in reversed(reader.entries()))
    return settings.shown_in(asked, written)


def _place(folder: Path | None) -> Path:
    if folder is None:
        return Path.cwd()
    if not folder.exists():
        raise NotFound(f"the folder {folder} does not exist", hint="look at --ledger")
    return folder
