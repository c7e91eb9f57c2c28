"""What is written down beside the car: faults, closed by a second file as the first is never
changed, and joints, how they were tightened against what was asked for."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass

from buildlog.analysis.car.written import RecordWith
from buildlog.analysis.workshop.fastener_book import JointWritten, judged
from buildlog.analysis.workshop.fault_book import FaultClosed, FaultOpened, FaultState
from buildlog.desk.acts import filing
from buildlog.desk.questions import day_books
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import InvalidInput, NotFound
from buildlog.records.checks import CheckedItem
from buildlog.records.fasteners import How as How
from buildlog.records.fasteners import Joint, again_after
from buildlog.records.faults import Fault
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.ledger.reader import Reader


@dataclass(frozen=True)
class FoundInList:
    """A fault that an item of a list found: the list's file and day, the item."""

    path: str
    date: dt.date
    item: CheckedItem

    @property
    def place(self) -> str:
        """The file and the item in it."""
        return f"{self.path}, {self.item.key}"


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


def found_in_lists(ledger: Reader) -> list[FoundInList]:
    """What was answered with a fault in a list that is not recorded, and has no fault yet."""
    from buildlog.records.checks import Check
    from buildlog.records.reading import read
    from buildlog.store.ledger.names import WORKING

    paths = [f"checks/{name}.toml" for name in filing.unrecorded(ledger, "checks")]
    known = {read(Fault, ledger.read(WORKING, path), path).found_in
             for path in ledger.working().files if path.startswith("faults/")}  # fmt: skip
    return [
        FoundInList(path, check.date, item)
        for path in paths
        for check in (read(Check, ledger.read(WORKING, path), path),)
        for item in check.item
        if item.fault and f"{path}, {item.key}" not in known
    ]


def open_found(ledger: Ledger, found: Sequence[FoundInList]) -> list[str]:
    """A fault opened for each of these, linked to the item that found it: the paths."""
    paths = []
    for one in found:
        item = one.item
        fields: filing.Fields = {
            "state": "open", "date": one.date, "symptom": item.fault,
            "odometer": filing.odometer(Snapshot(ledger), None), "codes": item.codes,
            "holds_up_full_load": None if item.critical else False, "found_in": one.place,
            "by": item.by, "note": item.note,
        }  # fmt: skip
        path, _ = filing.add(ledger, ("faults", f"{one.date}-{item.key}"), Fault, fields)
        paths.append(path)
    return paths


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
    """Say what was done about an open fault, by its name or enough of it to be unique.

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
    meant = RecordWith(
        f"fixed: {state.fault.symptom or state.name}", kind="fault", resolves=resolves
    )
    return FaultClosed((path,), meant, state, closing)


def _chosen(found: list[FaultState], name: str | None) -> FaultState:
    hits = [one for one in found if name is None or name in one.name]
    hits = [one for one in hits if one.name == name] or hits
    if name is not None and not hits:  # by what was seen, heard or felt
        told = name.casefold()
        hits = [one for one in found if told in (one.fault.symptom or "").casefold()]
    if len(hits) != 1:
        known = ", ".join(one.name for one in found) or "none is open"
        what = "which fault?" if name is None else f'"{name}" names no open fault, or more than one'
        raise NotFound(what, hint=f"open: {known}")
    return hits[0]


@dataclass(frozen=True)
class Tightening:
    """What is said of a joint besides its fasteners, each quantity with its unit."""

    part: str | None = None
    thread: str | None = None
    grade: str | None = None
    condition: str | None = None
    spec_low: str | None = None
    spec_high: str | None = None
    spec_angle: str | None = None
    spec_source: str | None = None
    single_use: bool | None = None
    retorque_after: str | None = None
    retorque_of: str | None = None
    tool: str | None = None
    note: str | None = None


def add_joint(
    ledger: Ledger,
    joint: str,
    torques: Sequence[tuple[str, str | None]],
    said: Tightening,
    *,
    angle: str | None = None,
    how: How | None = None,
    new: bool = False,
    odometer: str | None = None,
    by: str | None = None,
    on: dt.date | None = None,
) -> JointWritten:
    """Write down how a joint was tightened: each fastener's place and torque, the rest of all."""
    if said.part:
        filing.refuse_no_part(said.part)
    book, day = Snapshot(ledger), filing.day(on)
    if said.retorque_of:
        _refuse_unknown(book, said.retorque_of)
    head = {
        "joint": joint, "date": day, "odometer": filing.odometer(book, odometer), **asdict(said),
        **again_after(said.retorque_after),
        "single_use": said.single_use or None, "by": filing.who(by),
    }  # fmt: skip
    fields = {name: head[name] for name in Joint.model_fields if name in head}
    items = [
        {"position": place, "torque": torque, "angle": angle, "new": True if new else None,
         "how": how if torque else None}
        for place, torque in torques
    ]  # fmt: skip
    stem = f"{day}-{filing.slug(joint)}"
    path, written = filing.add(ledger, ("torque", stem), Joint, fields, "fastener", items)
    found, usual, _ = judged(path.split("/")[1].removesuffix(".toml"), written)
    meant = RecordWith(f"{joint} tightened")
    return JointWritten((path,), meant, written, usual, findings=tuple(found))


def _refuse_unknown(book: Snapshot, again: str) -> None:
    """InvalidInput if the tightening that is repeated is not on record."""
    versions = book.until_now
    known = {name for version in versions for name in version.joints} | {*book.papers.joints}
    if again not in known:
        some = f"known: {', '.join(sorted(known)[-8:])}" if known else "there is none yet"
        raise InvalidInput(f'there is no record "{again}"', hint=some)
