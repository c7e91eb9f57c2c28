"""The steps of a handover: custody entry, content, tag, bundle, package."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from buildlog.analysis.workshop.leaving import HandoverAnswer, HandoverMade
from buildlog.desk.give.booklet_content import RecordedBook, content, custody
from buildlog.desk.give.packing import payload
from buildlog.desk.give.what_leaves import leaving
from buildlog.desk.snapshot import opening
from buildlog.desk.snapshot.recorder import recorder
from buildlog.errors import InvalidInput, NotFound
from buildlog.report.numbers import Display

if TYPE_CHECKING:
    from buildlog.desk.snapshot.signing import Ask
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.report.booklet.content import BookletContent
    from buildlog.store.git.message import EntryFacts
    from buildlog.store.ledger.append import Recorder
    from buildlog.store.ledger.entries import Entry
    from buildlog.store.ledger.ledger import Ledger
    from buildlog.store.trust.sshsig import Signer


def hand_over(
    ledger: Ledger,
    out: Path,
    *,
    to: str | None = None,
    odometer: str | None = None,
    note: str | None = None,
    plans: bool = False,
    pdf: bool = True,
    paper: str | None = None,
    units: str | None = None,
    dry_run: bool = False,
    ask: Ask | None = None,
) -> HandoverAnswer:
    """Record the custody entry and write the package; with `dry_run` only say what would leave.

    The entry comes first, because the package holds it. Should the rest fail, the next
    handover finds the entry without its tag and goes on from there.
    """
    from buildlog.store.ledger.fingerprint import fingerprint

    if not ledger.entries():
        raise NotFound("nothing is recorded yet", hint="record the car as it came first")
    if dry_run:
        found = leaving(RecordedBook(ledger), plans=plans)
        return HandoverAnswer(found, fingerprint(ledger))
    _refuse_impossible(out, pdf)
    show = Display(opening.units_of(ledger, units))
    sign = own_signer(ledger, ask)
    by = recorder(sign)
    number = _begun(ledger) or record_custody(ledger, by, role="given", to=to, odometer=odometer,
                                              note=note)  # fmt: skip
    book = RecordedBook(ledger)
    told = content(book, by.shop)
    files = payload(book, told, show, pdf=pdf, paper=paper)
    made = _packed(ledger, out, told, number, files, by, plans)
    return HandoverAnswer(leaving(book, plans=plans), made.fingerprint, made)


def _refuse_impossible(out: Path, pdf: bool) -> None:
    """Before anything is recorded: the place is taken, or nothing here makes a PDF."""
    from buildlog.report.booklet.pdf import engine
    from buildlog.store.exchange import bag

    bag.refuse_taken(out)
    if pdf:
        engine()


def _packed(
    ledger: Ledger, out: Path, told: BookletContent, number: int, files: dict[str, bytes],
    by: Recorder, plans: bool,
) -> HandoverMade:  # fmt: skip
    """The tag on the state that leaves, and the package of it."""
    from buildlog.report.booklet.proof import how_to_check
    from buildlog.store.exchange import bag, bundle, passing_on
    from buildlog.store.ledger.fingerprint import fingerprint

    state = fingerprint(ledger)
    said = passing_on.tag_message(f"handover {number}", state, files)
    passing_on.tag(ledger, number, said, by, by.sign)
    history = bundle.write(ledger.repo, bundle.references(ledger.repo, plans=plans))
    files[passing_on.BUNDLE], large = history, bundle.is_large(history)
    texts = {"HOW-TO-CHECK.txt": how_to_check(told, number, large).encode()}
    whole = bag.bag(files, _info(told.now.configuration.car.name, state, by.now), texts)
    archive, newest = passing_on.write(out, whole), ledger.entries()[-1]
    return HandoverMade(
        out, archive, number, newest.number, newest.id, state, tuple(sorted(files)),
        archive.stat().st_size, large,
    )  # fmt: skip


def own_signer(ledger: Ledger, ask: Ask | None) -> Signer | None:
    """The user's key, where one is set and this ledger keeps a register; None where not."""
    from buildlog.desk.snapshot import settings
    from buildlog.desk.snapshot.signing import signer
    from buildlog.store.ledger import key_events

    if settings.load().signing_key is None or not key_events.held(ledger):
        return None
    by = signer(ask=ask)
    key_events.may_sign(ledger, by)
    return by


def record_custody(
    ledger: Ledger, by: Recorder, *, role: str, to: str | None = None, odometer: str | None = None,
    note: str | None = None,
) -> int:  # fmt: skip
    """Record one side of a handover as an entry; its number."""
    from buildlog.records.custody import Custody
    from buildlog.records.reading import read
    from buildlog.records.toml.toml_write import write
    from buildlog.store.ledger.fingerprint import fingerprint

    book = RecordedBook(ledger)
    earlier = list(custody(book))
    number = max((one.number for one in earlier), default=0) + 1
    first, newest = _held_from(book, earlier), ledger.entries()[-1]
    reading = odometer or _known_odometer(ledger)
    values = {
        "format": 1,
        "role": role,
        "date": by.now.date(),
        "holder": by.shop,
        "to": to,
        "from_entry": first.id if role == "given" else None,
        "from_odometer": first.odometer if role == "given" else None,
        "until_entry": newest.id,
        "odometer": reading,
        "fingerprint": fingerprint(ledger),
        "note": note,
    }
    data = write({key: value for key, value in values.items() if value is not None})
    path = f"handover/{number}.toml"
    read(Custody, data, path)  # refuses what the record may not hold
    ledger.append({path: data}, _facts(number, role, to, reading, newest), by)
    return number


def _facts(
    number: int, role: str, to: str | None, odometer: str | None, newest: Entry
) -> EntryFacts:
    from buildlog.store.git.message import EntryFacts

    verb = "given on" if role == "given" else "taken over"
    subject = f"History {verb}{f' to {to}' if to else ''} (handover {number})"
    return EntryFacts(subject, kind="handover", odometer=odometer or "unknown",
                 changed=f"custody record {number}")  # fmt: skip


def _begun(ledger: Ledger) -> int | None:
    """The number of a handover that was recorded and whose package was never finished."""
    from buildlog.store.exchange.bundle import HANDOVERS

    newest = ledger.entries()[-1]
    if newest.kind != "handover" or not newest.parents:
        return None
    book = RecordedBook(ledger)
    mine = [one for one in custody(book) if one.version.id == newest.id]
    if not mine or mine[0].record.role != "given":
        return None
    number = mine[0].number
    return None if ledger.repo.reference(f"{HANDOVERS}{number}") else number


def _held_from(book: Snapshot, earlier: list[Any]) -> Entry:
    """The first entry of the present holder's time: the one behind the last custody entry."""
    last = max((one.version.number for one in earlier), default=0)
    return book.entries[min(last, len(book.entries) - 1)]


def _known_odometer(ledger: Ledger) -> str | None:
    return next((one.odometer for one in reversed(ledger.entries()) if one.odometer), None)


def _info(name: str, state: str, now: datetime) -> dict[str, str]:
    clean = " ".join(name.split())
    if not clean:
        raise InvalidInput("the car has no name", where="car.toml", hint="set car.name")
    return {
        "Bagging-Date": now.date().isoformat(),
        "External-Description": f"Build history of {clean}",
        "External-Identifier": state,
        "Bag-Software-Agent": "buildlog",
    }
