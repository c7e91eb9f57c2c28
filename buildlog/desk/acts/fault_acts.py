"""Faults: written down, and closed by a second file, because the first is never changed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence

from buildlog.analysis.car.written import RecordWith
from buildlog.analysis.workshop.fault_book import FaultClosed, FaultOpened, FaultState
from buildlog.desk.acts import filing
from buildlog.desk.questions import day_books
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import NotFound
from buildlog.records.faults import Fault
from buildlog.store.ledger.ledger import Ledger


def open_fault(
    ledger: Ledger,
    symptom: str,
    *,
    part: str | None = None,
    codes: Sequence[str] = (),
    odometer: str | None = None,
    cause: str | None = None,
    holds_up: bool = True,
    note: str | None = None,
    by: str | None = None,
    on: dt.date | None = None,
) -> FaultOpened:
    """Write down what was seen, heard, smelt or felt; unless told, it holds up full load."""
    if part:
        filing.refuse_no_part(part)
    read_codes = tuple(filing.trouble_code(code) for code in codes)
    day = filing.day(on)
    name = part.split(".")[-1].replace("_", "-") if part else filing.slug(symptom, 30)
    fields: filing.Fields = {
        "state": "open", "date": day, "symptom": symptom, "part": part,
        "odometer": filing.odometer(Snapshot(ledger), odometer),
        "codes": [code.text for code in read_codes], "cause": cause,
        "holds_up_full_load": None if holds_up else False,
        "by": filing.who(by), "note": note,
    }  # fmt: skip
    path, fault = filing.add(ledger, ("faults", f"{day}-{name}"), Fault, fields)
    said = "".join(c for c in symptom[:40] if c not in '"$`\\!').strip()  # to be pasted
    return FaultOpened((path,), RecordWith(said, kind="fault"), fault, read_codes)


def close_fault(
    ledger: Ledger,
    name: str | None = None,
    *,
    remedy: str | None = None,
    cause: str | None = None,
    odometer: str | None = None,
    note: str | None = None,
    by: str | None = None,
    on: dt.date | None = None,
    ask: Callable[[FaultState], str | None] | None = None,
) -> FaultClosed:
    """Say what was done about an open fault, by its name or an unmistakable part of it.

    Without a name the only open one is meant. `ask` is asked for a remedy that is not given.
    """
    book = Snapshot(ledger)
    state = _chosen(day_books.faults(book, only_open=True), name)
    if remedy is None and ask:
        remedy = ask(state)
    day = filing.day(on)
    stem = state.name.split("-", 3)[-1] if state.name[:4].isdigit() else state.name
    fields: filing.Fields = {
        "state": "closed", "date": day, "part": state.fault.part,
        "odometer": filing.odometer(book, odometer), "closes": state.name,
        "cause": cause, "remedy": remedy, "by": filing.who(by), "note": note,
    }  # fmt: skip
    path, closing = filing.add(ledger, ("faults", f"{day}-{stem}-closed"), Fault, fields)
    resolves = state.version.number or None
    meant = RecordWith(f"mended: {state.name}", kind="fault", resolves=resolves)
    return FaultClosed((path,), meant, state, closing)


def _chosen(found: list[FaultState], name: str | None) -> FaultState:
    hits = [one for one in found if name is None or name in one.name]
    hits = [one for one in hits if one.name == name] or hits
    if len(hits) != 1:
        known = ", ".join(one.name for one in found) or "none is open"
        what = "which fault?" if name is None else f'"{name}" names no open fault or several'
        raise NotFound(what, hint=f"open: {known}")
    return hits[0]
