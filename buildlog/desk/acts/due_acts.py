"""What comes due: begun in car.toml, done, and the odometer read in between."""

from __future__ import annotations

import datetime as dt

from buildlog.analysis.car.written import RecordWith, Written
from buildlog.desk.acts import filing, working_files
from buildlog.desk.acts.car_fields import CAR
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import InvalidInput, NotFound, UsageError
from buildlog.records.car.configuration import Configuration
from buildlog.records.car.due import Service
from buildlog.records.day_notes import OdometerReading
from buildlog.records.paths import nearest
from buildlog.records.reading import read
from buildlog.records.toml import toml_edit
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.ledger.names import WORKING


def add_due(ledger: Ledger, what: str, every: str, **more: object) -> Written:
    """One more thing that comes due, in car.toml. `more`: part, last_on, last_at, note."""
    part = more.get("part")
    if isinstance(part, str):
        filing.refuse_no_part(part)

    def edited(data: bytes) -> bytes:
        known = [one.what.casefold() for one in read(Configuration, data, CAR).due]
        if what.casefold() in known:
            raise InvalidInput(f'"{what}" comes due already', hint="edit its [[due]] in car.toml")
        given = {name: value for name, value in more.items() if value not in (None, "")}
        after = toml_edit.append_items(data, "due", [{"what": what, "every": every, **given}])
        filing.refuse_invalid(Configuration, after, CAR)
        return after

    working_files.change(ledger, CAR, edited)
    return Written((CAR,), RecordWith(f"{what}, every {every}"))


def do_due(
    ledger: Ledger, what: str, *, date: dt.date | None = None, odometer: str | None = None,
    who: str | None = None, note: str | None = None,
) -> Written:  # fmt: skip
    """Note that a due thing was done; its interval begins anew."""
    known = [one.what for one in read(Configuration, ledger.read(WORKING, CAR), CAR).due]
    meant = [one for one in known if one.casefold() == what.casefold()] or [
        one for one in known if what.casefold() in one.casefold()]  # fmt: skip
    if len(meant) != 1:
        hint = nearest(what, known) if known else 'buildlog due add "engine oil" --every "5000 mi"'
        told = "more than one thing that comes due has" if meant else "nothing that comes due has"
        raise NotFound(f'{told} "{what}" in its name', hint=hint)
    day, read_at = filing.day(date), filing.odometer(Snapshot(ledger), odometer)
    _refuse_ahead(day)
    by = filing.who(who)
    fields: filing.Fields = {
        "what": meant[0], "date": day, "odometer": read_at, "who": by, "note": note,
    }  # fmt: skip
    path, _ = filing.add(ledger, ("due", f"{day}-{filing.slug(meant[0])}"), Service, fields)
    return Written((path,), RecordWith(f"{meant[0]} done", odometer=odometer))


def note_reading(
    ledger: Ledger, odometer: str | None, *, date: dt.date | None = None,
    counts: dict[str, int | None] | None = None, who: str | None = None, source: str | None = None,
    note: str | None = None,
) -> Written:  # fmt: skip
    """An odometer read, or starts and passes counted, without anything else being done."""
    told = {name: value for name, value in (counts or {}).items() if value is not None}
    if odometer is None and not told:
        raise UsageError("nothing was read", hint='buildlog due reading "42310 mi"')
    day, read_at = filing.day(date), filing.odometer(Snapshot(ledger), odometer)
    _refuse_ahead(day)
    fields: filing.Fields = {
        "date": day, "odometer": read_at, **told, "who": filing.who(who), "source": source,
        "note": note,
    }  # fmt: skip
    path, _ = filing.add(ledger, ("readings", str(day)), OdometerReading, fields)
    return Written((path,), RecordWith("odometer read" if odometer else "counted"))


def _refuse_ahead(day: dt.date) -> None:
    if day > filing.day(None) + dt.timedelta(days=1):
        raise InvalidInput(f"the date {day} lies ahead: today is {filing.day(None)}",
                           hint="correct it, or the clock of this computer")  # fmt: skip
