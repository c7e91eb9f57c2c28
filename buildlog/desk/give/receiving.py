"""Taking a history over: checked before anything is made of it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from buildlog.desk.give.handing_over import record_custody
from buildlog.desk.snapshot.recorder import recorder
from buildlog.desk.snapshot.signing import Ask, signer
from buildlog.errors import DamagedLedger, NotFound, TrustError
from buildlog.store.exchange import passing_on
from buildlog.store.exchange.passing_on import Package, Received
from buildlog.store.ledger.fingerprint import fingerprint
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.verify.verdict import verify

if TYPE_CHECKING:
    from buildlog.findings import Finding
    from buildlog.store.ledger.append import Recorder
    from buildlog.store.trust.sshsig import Signer


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
            why=f"{len(bad) - 1} more faults" if len(bad) > 1 else None,
            hint="ask for it again; nothing was made of this one",
        )


def _take(ledger: Ledger, by: Recorder, sign: Signer, odometer: str | None) -> None:
    """Record and sign that the ledger was taken over. A taker whose key nobody here vouches
    for enters it first, and that is shown as what it is: a new beginning of the keys."""
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
