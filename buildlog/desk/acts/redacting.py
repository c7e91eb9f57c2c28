"""A file outside deleted because somebody asked for it; the chain of entries stays checkable."""

from __future__ import annotations

from buildlog.analysis.car.written import Redaction
from buildlog.desk.acts import filing
from buildlog.desk.snapshot.settings import recorder
from buildlog.errors import InvalidInput, NotFound, UsageError, begun
from buildlog.records.outside import OutsideFile
from buildlog.records.reading import read
from buildlog.store.disk import outside_files
from buildlog.store.git import ledger_files
from buildlog.store.git.message import EntryFacts
from buildlog.store.ledger.entries import Entry
from buildlog.store.ledger.ledger import Ledger


def redact(
    ledger: Ledger, named: str, asked_by: str, why: str, done_by: str | None = None
) -> Redaction:
    """Record that a file outside is deleted, who asked and why, then delete it.

    The entry comes first: a death in between leaves a file that the same call deletes.
    """
    for word, said in (("--asked-by", asked_by), ("--why", why)):
        if not said.strip():
            raise UsageError(f"{word} is empty", hint="say it in words that name no person")
    path, entry = _place(ledger, named), None
    held = read(OutsideFile, ledger.read(ledger.entries()[-1], path), path)
    before = said_redacted(ledger.entries(), path)
    if before is None:
        facts = EntryFacts(
            f"Deleted on request: {held.file}", kind="check", odometer="unknown",
            done_by=filing.who(done_by), changed=f"file {held.sha256[:8]} outside deleted",
            redacted=f"{path}; asked by {asked_by.strip()}; {why.strip()}",
        )  # fmt: skip
        entry = ledger.append({}, facts, recorder())
    begun(f"{held.file} is deleted", f"{held.file} is not deleted yet: do it again",
          lambda: outside_files.find(held.sha256) is None)  # fmt: skip
    deleted = outside_files.delete(held.sha256)
    made = entry or before
    assert made is not None
    return Redaction(path, held.file, held.sha256, deleted, made.number, made.id)


def said_redacted(history: list[Entry], path: str) -> Entry | None:
    """The entry that says a file outside was deleted."""
    told = (one for one in history if one.redacted and one.redacted.startswith(f"{path}; "))
    return next(told, None)


def _place(ledger: Ledger, named: str) -> str:
    """The recorded path of what tells of a file outside."""
    known = ledger.entries()
    if not known:
        raise NotFound("nothing is recorded yet")
    files = ledger.files(known[-1])
    names = (named, f"attachments/{named}", f"{named}{ledger_files.OUTSIDE}",
             f"attachments/{named}{ledger_files.OUTSIDE}")  # fmt: skip
    path = next((name for name in names if name in files), None)
    if path is None:
        away = [one for one in files if ledger_files.kind_of(one) == "outside"]
        raise NotFound(
            f"there is no recorded file outside called {named}",
            hint=f"known: {', '.join(away[:6])}"
            if away
            else "buildlog attach --personal keeps one",
        )
    if ledger_files.kind_of(path) != "outside":
        first = next(entry for entry in known if path in ledger.files(entry))
        raise InvalidInput(
            f"the bytes of {path} are in the history since entry {first.number} ({first.short})",
            why="every entry since rests on them: only a new line of history could take them out",
            hint="begin a new ledger from this one's files without it, and give that on",
        )
    return path
