"""The steps of a handover: custody entry, content, tag, bundle, package."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from buildlog.desk.give.booklet_content import RecordedBook, content, custody
from buildlog.desk.give.packing import payload
from buildlog.errors import InvalidInput

if TYPE_CHECKING:
    from buildlog.desk.snapshot.signing import Ask
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.report.numbers import Display
    from buildlog.store.git.message import EntryFacts
    from buildlog.store.ledger.append import Recorder
    from buildlog.store.ledger.entries import Entry
    from buildlog.store.ledger.ledger import Ledger
    from buildlog.store.trust.sshsig import Signer


def give(
    ledger: Ledger, out: Path, shop: str, now: datetime, show: Display, *, to: str | None,
    odometer: str | None, note: str | None, plans: bool, pdf: bool, paper: str | None = None,
    ask: Ask | None = None,
) -> tuple[dict[str, Any], Snapshot]:  # fmt: skip
    """Record the custody entry and make the package: what was made, and the book it tells.

    The entry comes first, because the package holds it. Should the rest fail, the next
    handover finds the entry without its tag and goes on from there.
    """
    from buildlog.report.booklet.proof import how_to_check
    from buildlog.store.exchange import bag, bundle, passing_on
    from buildlog.store.ledger.append import Recorder
    from buildlog.store.ledger.fingerprint import fingerprint

    sign = own_signer(ledger, ask)
    by = Recorder(shop, now, sign=sign)
    number = _begun(ledger) or record_custody(ledger, by, role="given", to=to, odometer=odometer,
                                              note=note)  # fmt: skip
    book = RecordedBook(ledger)
    told = content(book, shop)
    files = payload(book, told, show, pdf=pdf, paper=paper)
    state = fingerprint(ledger)
    subject = f"handover {number}"
    passing_on.tag(ledger, number, passing_on.tag_message(subject, state, files), by, sign)
    history = bundle.write(ledger.repo, bundle.references(ledger.repo, plans=plans))
    files[passing_on.BUNDLE], large = history, bundle.is_large(history)
    texts = {"HOW-TO-CHECK.txt": how_to_check(told, number, large).encode()}
    whole = bag.bag(files, _info(told.now.configuration.car.name, state, now), texts)
    archive = passing_on.write(out, whole)
    newest = ledger.entries()[-1]
    done = {
        "folder": str(out), "zip": str(archive), "number": number, "entry": newest.number,
        "id": newest.id, "fingerprint": state, "files": sorted(files),
        "bytes": archive.stat().st_size, "large": large,
    }  # fmt: skip
    return done, book


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


def take(ledger: Ledger, by: Recorder, sign: Signer, odometer: str | None) -> None:
    """Record and sign that the ledger was taken over. A taker whose key nobody here vouches
    for enters it first, and that is shown as what it is: a new beginning of the keys."""
    from buildlog.errors import TrustError
    from buildlog.store.ledger import key_events

    try:
        key_events.may_sign(ledger, sign)
    except TrustError:
        name = "".join(c if c.isascii() and (c.isalnum() or c in "._-") else " " for c in by.shop)
        name = " ".join(name.split()).lstrip("._-")[:60] or "owner"
        if key_events.held(ledger):
            key_events.restart(ledger, by, sign, name, "taken over by a new holder")
        else:
            key_events.add(ledger, by, sign, name)
    record_custody(ledger, by, role="taken", odometer=odometer)
