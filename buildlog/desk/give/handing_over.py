"""A history handed over, step by step, and taken over: checked before anything is made of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path

from buildlog.analysis.workshop.leaving import HandoverAnswer, HandoverMade
from buildlog.desk.give.booklet_content import Tell, content, custody, silent
from buildlog.desk.give.packing import payload
from buildlog.desk.give.what_leaves import leaving
from buildlog.desk.snapshot import opening, settings
from buildlog.desk.snapshot.opening import recorded
from buildlog.desk.snapshot.settings import Ask, recorder, signer
from buildlog.errors import DamagedLedger, InvalidInput, NotFound, TrustError
from buildlog.findings import Finding
from buildlog.records.custody import Custody
from buildlog.records.reading import read
from buildlog.records.toml.toml_write import write
from buildlog.report.booklet.content import BookletContent
from buildlog.report.numbers import speaking
from buildlog.store.exchange import bag, bundle, passing_on
from buildlog.store.exchange.passing_on import Package, Received
from buildlog.store.git.message import EntryFacts
from buildlog.store.ledger import key_events
from buildlog.store.ledger.append import Recorder
from buildlog.store.ledger.entries import Entry
from buildlog.store.ledger.fingerprint import fingerprint
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.ledger.names import HANDOVERS
from buildlog.store.trust.sshsig import Signer
from buildlog.store.verify.verdict import verify


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
    tell: Tell = silent,
) -> HandoverAnswer:
    """Record the custody entry and write the package; with `dry_run` only say what would leave.

    The entry comes first, because the package holds it. Should the rest fail, the next
    handover finds the entry without its tag and goes on from there. `tell` hears how far it is.
    """

    if not ledger.entries():
        raise NotFound("nothing is recorded yet", hint="record the car as it came first")
    if dry_run:
        found = leaving(recorded(ledger), plans=plans)
        return HandoverAnswer(found, fingerprint(ledger))
    out = out if out.name else out.resolve()  # "." is a folder with a name, too
    bag.refuse_taken(out)
    show = speaking(opening.units_of(ledger, units))
    sign = own_signer(ledger, ask)
    by = recorder(sign)
    number = _begun(ledger, to, odometer, note)
    if number is None:
        number = record_custody(ledger, by, role="given", to=to, odometer=odometer, note=note)
    book = recorded(ledger)
    told = content(book, by.shop, tell=lambda share: tell(0.4 * share))
    files, no_pdf = payload(book, told, show, pdf=pdf, paper=paper, tell=tell)
    tell(0.95)
    made = replace(_packed(ledger, out, told, number, files, by, plans), no_pdf=no_pdf)
    return HandoverAnswer(leaving(book, plans=plans), made.fingerprint, made)


def _packed(
    ledger: Ledger, out: Path, told: BookletContent, number: int, files: dict[str, bytes],
    by: Recorder, plans: bool,
) -> HandoverMade:  # fmt: skip
    """The tag on the state that leaves, and the package of it."""
    from buildlog.report.booklet.proof import how_to_check

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
    if settings.load().signing_key is None or not key_events.held(ledger):
        return None
    return settings.signer_of(ledger, ask)


def record_custody(
    ledger: Ledger, by: Recorder, *, role: str, to: str | None = None, odometer: str | None = None,
    note: str | None = None,
) -> int:  # fmt: skip
    """Record one side of a handover as an entry; its number."""

    book = recorded(ledger)
    earlier = list(custody(book))
    number = max((one.number for one in earlier), default=0) + 1
    # The present holder's time begins behind the last custody entry.
    last = max((one.version.number for one in earlier), default=0)
    first, newest = book.entries[min(last, len(book.entries) - 1)], book.entries[-1]
    known = (entry.odometer for entry in reversed(book.entries) if entry.odometer)
    reading = odometer or next(known, None)
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

    verb = "given on" if role == "given" else "taken over"
    subject = f"History {verb}{f' to {to}' if to else ''} (handover {number})"
    return EntryFacts(subject, kind="handover", odometer=odometer or "unknown",
                 changed=f"custody record {number}")  # fmt: skip


def _begun(ledger: Ledger, to: str | None, odometer: str | None, note: str | None) -> int | None:
    """The number of a handover that was recorded and whose package was never finished.

    Where other words are given now, it is not that one: it is recorded anew.
    """
    newest = ledger.entries()[-1]
    if newest.kind != "handover" or not newest.parents:
        return None
    book = recorded(ledger)
    mine = [one for one in custody(book) if one.version.id == newest.id]
    if not mine or mine[0].record.role != "given":
        return None
    said, read_ = mine[0].record, str(mine[0].record.odometer or "")
    if (said.to, said.note) != (to, note) or (odometer is not None and odometer != read_):
        return None
    number = mine[0].number
    return None if ledger.repo.reference(f"{HANDOVERS}{number}") else number


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


def receive(
    package: Path,
    folder: Path,
    *,
    sign: bool = False,
    odometer: str | None = None,
    ask: Ask | None = None,
) -> Received:
    """Go on in a new folder with a handover: its folder, its zip, or the bundle alone.

    DamagedLedger, and nothing made, if it is not what it says. With `sign` it is recorded and
    signed that it was taken over.
    """
    if not package.exists():
        raise NotFound(f"{package} does not exist", hint="name the folder, the zip or the bundle")
    by = signer(ask=ask) if sign else None  # refuses before anything is made
    found = passing_on.read(package)
    told: list[Finding] = list(found.findings)
    passing_on.receive(found, folder, lambda draft: _judge(draft, found, package.name, told))
    with Ledger.open(folder) as ledger:
        received = fingerprint(ledger)
        if by is not None:
            _take(ledger, recorder(by, nameless="owner without a name"), by, odometer)
        entries = ledger.entries()
    return Received(folder, len(entries), entries[0].id, received, sign, tuple(told))


def _judge(ledger: Ledger, found: Package, name: str, told: list[Finding]) -> None:
    """What is to be said of a history, in `told`; DamagedLedger if it cannot be taken over."""
    told.extend(passing_on.beside(found, ledger))
    result = verify(ledger)
    # the index is written with the files, after this
    told.extend(one for one in result.findings if one.code != "index")
    # a bundle's head has no checksum: a stage's name that moved is a fault here
    bad = [f for f in told if f.severity == "error" or f.code == "stage-tag"]
    if bad or result.verdict in ("altered", "cannot-tell"):
        raise DamagedLedger(
            bad[0].text if bad else "it holds no history",
            where=name,
            why=f"{len(bad) - 1} more of this kind" if len(bad) > 1 else None,
            hint="ask for it again; nothing was made of this one",
        )


def _take(ledger: Ledger, by: Recorder, sign: Signer, odometer: str | None) -> None:
    """Record and sign that the ledger was taken over. A taker whose key nobody here vouches
    for enters it first, and that is shown as what it is: a new beginning of the keys."""
    try:
        key_events.may_sign(ledger, sign)
    except TrustError:
        name = "".join(c if c.isascii() and (c.isalnum() or c in "._-") else " " for c in by.shop)
        name = " ".join(name.split()).lstrip("._-")[:60] or "owner"
        if key_events.held(ledger):
            key_events.restart(ledger, by, sign, name, "taken over by a new holder", lost=False)
        else:
            key_events.add(ledger, by, sign, name)
    record_custody(ledger, by, role="taken", odometer=odometer)
