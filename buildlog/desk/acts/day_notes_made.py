"""Notes of a day: the odometer read without an entry; what the car waits for, and when it ends."""

from __future__ import annotations

import datetime as dt

from buildlog.analysis.car.written import RecordWith, Written
from buildlog.desk.acts import filing
from buildlog.desk.acts.due_acts import note_reading
from buildlog.desk.questions.waits import Wait, waits
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import InvalidInput, NotFound
from buildlog.records.day_notes import Waiting
from buildlog.store.ledger.ledger import Ledger
from buildlog.units import parse


def note_odometer(
    ledger: Ledger, reading: str, *, source: str | None = None, note: str | None = None,
    by: str | None = None,
) -> Written:  # fmt: skip
    """Write down what the odometer shows; less than was recorded needs a note that says why."""
    book = Snapshot(ledger)
    known = [entry.odometer_m for entry in book.entries if entry.odometer_m is not None]
    shown = parse(reading, ("length",))
    if known and shown.si < known[-1] and not note:
        raise InvalidInput(
            f"{shown.text} is less than the last entry's odometer",
            hint="look again; or say in the note why",
        )
    return note_reading(ledger, reading, who=by, source=source, note=note)


def wait_for(
    ledger: Ledger, what: str, waits_for: str | None = None, *, since: dt.date | None = None,
    expected: dt.date | None = None, note: str | None = None, by: str | None = None,
    on: dt.date | None = None,
) -> Written:  # fmt: skip
    """Write down what the car waits for: a part, somebody's go-ahead, work done elsewhere."""
    day = filing.day(on)
    _refuse_odd(what, since or day, day, expected)
    fields: filing.Fields = {
        "state": "waiting", "date": day, "waits_for": waits_for, "what": what, "since": since,
        "expected": expected, "by": filing.who(by), "note": note,
    }  # fmt: skip
    path, _ = filing.add(ledger, ("waiting", f"{day}-{filing.slug(what, 30)}"), Waiting, fields)
    return Written((path,), RecordWith(f"waits for {what}"))


def _refuse_odd(what: str, since: dt.date, day: dt.date, expected: dt.date | None) -> None:
    if not what.strip():
        raise InvalidInput("what does it wait for?", hint="which part, whose word, what work")
    if since > day:
        raise InvalidInput(
            f"it waits since {since}, which lies ahead of {day}", hint="a day before"
        )
    if expected is not None and expected < since:
        raise InvalidInput(
            f"expected {expected}, before it began to wait on {since}", hint="a later day"
        )


def end_wait(
    ledger: Ledger, name: str | None = None, *, note: str | None = None, by: str | None = None,
    on: dt.date | None = None,
) -> Written:  # fmt: skip
    """Write down that a wait is over, by its name or enough of it to be unique; without a name
    the only one is meant."""
    one = _chosen(waits(Snapshot(ledger)), name)
    day, stem = filing.day(on), one.name.split("-", 3)[-1]
    fields: filing.Fields = {
        "state": "ended", "date": day, "ends": one.name, "by": filing.who(by), "note": note,
    }  # fmt: skip
    path, _ = filing.add(ledger, ("waiting", f"{day}-{stem}-ended"), Waiting, fields)
    return Written((path,), RecordWith(f"no longer waits for {one.waiting.what}"))


def _chosen(found: list[Wait], name: str | None) -> Wait:
    hits = [one for one in found if name is None or name in one.name]
    hits = [one for one in hits if one.name == name] or hits
    if len(hits) != 1:
        known = ", ".join(one.name for one in found) or "it waits for nothing"
        raise NotFound("which wait?", hint=f"known: {known}")
    return hits[0]
