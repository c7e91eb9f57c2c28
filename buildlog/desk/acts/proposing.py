"""What an entry could be called, by what is new in the folder: offered, never taken unasked."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from buildlog.analysis.car.changes import Change, changes
from buildlog.desk.questions import day_books
from buildlog.desk.questions.new_files import NewThing, new_files
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.records.checked_paths import table
from buildlog.records.key_words import key_words, piece_words
from buildlog.records.paths import parts
from buildlog.records.recorded_change import changed_fields
from buildlog.store.ledger.ledger import Ledger
from buildlog.units import Quantity

_LONGEST = 90
_PAPERS = {"part", "source", "note", "written_for", "limit", "break_in", "effect", "due"}
_KIND_IS_ALL = {"induction", "fuel"}
_BOOST = table("induction.boost")
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
    asks = not said and all(one.kind != "session" for one in things)
    return EntryProposed(_message(ledger, book, things), stage, asks)


def _message(ledger: Ledger, book: Snapshot, things: list[NewThing]) -> str:
    if not book.entries:
        return "as it came"
    before, now = book.history[-1].configuration, book.working.configuration
    changed = changes(before, now)
    found = [*dict.fromkeys(filter(None, map(_change_words, changed)))]
    if changed and not found:
        found = [changed_fields([one.path for one in changed])]
    pieces = [*found, *dict.fromkeys(_words(ledger, book, things))]
    text = ""
    for piece in pieces:
        longer = f"{text}, {piece}" if text else piece
        if len(longer) > _LONGEST and text:
            return f"{text} and more"
        text = longer
    return text


def _change_words(change: Change) -> str:
    """A change as one would tell it: "turbocharger", "fuel injectors flow 550 cc/min"; "" of what
    is said of a part besides what it is and does."""
    *tables, last = parts(change.path)
    if change.path.startswith(f"{_BOOST}.") and last != "target_gauge":
        return ""
    if any(one in _PAPERS for one in (*tables, last)):
        return ""
    if tables[:1] == ["work"]:
        return f"{change.new}" if last == "item" and change.new is not None else ""
    place = piece_words(".".join(tables))
    if change.new is None:
        return f"no {place} {key_words(last)}".replace("  ", " ")
    text = change.new.text if isinstance(change.new, Quantity) else f"{change.new}"
    if isinstance(change.new, bool | tuple) or len(text) > _LONGEST // 2:
        return f"{place} {key_words(last)}"
    if last == "kind":
        return text.replace("-", " ") + ("" if place in _KIND_IS_ALL else f" {place}")
    if change.path.startswith(f"{_BOOST}."):
        return f"boost {text}"
    named = last in ("id", "flow", "size", "count", "rated_torque")  # its value says which it is
    return f"{place} {text}" if named else f"{place} {key_words(last)} {text}"


def _words(ledger: Ledger, book: Snapshot, things: list[NewThing]) -> Iterator[str]:
    sheets = {one.name: one.progress for one in day_books.sheets(ledger)}
    faults = {one.name: one.fault.symptom for one in day_books.faults(book)}
    for one in things:
        match one.kind:
            case "session":
                yield _DATED.sub("", one.name, count=1)
            case "fault" if one.title in faults:
                yield f"fixed: {faults[one.title] or one.title}"
            case "joint":
                yield f"{one.title} tightened"
            case "torque sheet":
                yield sheets.get(one.name, one.title)
            case "attachment":
                yield one.name.rpartition("/")[2]
            case _:
                yield one.title or one.name
