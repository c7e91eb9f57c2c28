"""What an entry could be called, by what is new in the folder: offered, never taken unasked."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from buildlog.analysis.car.changes import changes
from buildlog.desk.questions import day_books
from buildlog.desk.questions.new_files import NewThing, new_files
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.records.recorded_change import changed_fields
from buildlog.store.ledger.ledger import Ledger

_LONGEST = 70
_DATED = re.compile(r"\d{4}-\d{2}-\d{2}-")
_STAGE = re.compile(r"baseline|stage.*")


@dataclass(frozen=True)
class EntryProposed:
    """A message, a stage's name where a new session bears one, and whether no reading of the
    odometer is known yet."""

    message: str
    stage: str | None
    asks_odometer: bool


def proposed(ledger: Ledger) -> EntryProposed:
    """What fits the files that are not recorded."""
    book = Snapshot(ledger)
    things = new_files(ledger)
    known = {entry.stage for entry in book.entries}
    names = [_DATED.sub("", one.name, count=1) for one in things if one.kind == "session"]
    stage = next((name for name in names if _STAGE.fullmatch(name) and name not in known), None)
    said = [e.odometer for e in book.entries if e.odometer not in (None, "unknown")]
    return EntryProposed(_message(ledger, book, things), stage, not said and not things)


def _message(ledger: Ledger, book: Snapshot, things: list[NewThing]) -> str:
    if not book.entries:
        return "as it came"
    before, now = book.history[-1].configuration, book.working.configuration
    fields = changed_fields([one.path for one in changes(before, now)])
    pieces = [*([fields] if fields else []), *dict.fromkeys(_words(ledger, things))]
    text = ""
    for piece in pieces:
        longer = f"{text}; {piece}" if text else piece
        if len(longer) > _LONGEST and text:
            return f"{text} and more"
        text = longer
    return text


def _words(ledger: Ledger, things: list[NewThing]) -> Iterator[str]:
    sheets = {one.name: one.progress for one in day_books.sheets(ledger)}
    for one in things:
        match one.kind:
            case "session":
                yield _DATED.sub("", one.name, count=1)
            case "joint":
                yield f"{one.title} tightened"
            case "torque sheet":
                yield sheets.get(one.name, one.title)
            case "attachment":
                yield one.name.rpartition("/")[2]
            case _:
                yield one.title or one.name
