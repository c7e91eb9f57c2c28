"""The working files as one entry, whole or not at all."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace

from buildlog.analysis.car.written import EntryMade, Recorded
from buildlog.analysis.car.written import Outlook as Outlook
from buildlog.desk.acts.fault_acts import found_in_lists, open_found
from buildlog.desk.acts.outlook import looked_ahead
from buildlog.desk.snapshot.settings import NAMELESS, Ask, recorder, signer_of
from buildlog.errors import InvalidInput
from buildlog.findings import Finding
from buildlog.store.git.message import EntryFacts
from buildlog.store.ledger.append import Recorder
from buildlog.store.ledger.entries import Entry, approvers
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.ledger.proposal import EntryProposal
from buildlog.units import without_thousands


@dataclass(frozen=True)
class EntrySaid:
    """What a person says of an entry, other entries by name; the program knows the rest."""

    message: str
    notes: str = ""
    kind: str | None = None
    stage: str | None = None
    odometer: str | None = None
    odometer_note: str | None = None
    work_date: dt.date | None = None
    done_by: str | None = None
    approved_by: str | None = None
    corrects: str | None = None
    resolves: str | None = None
    approves: str | None = None
    session_is_new: bool = False
    only: tuple[str, ...] | None = None  # paths; what else was edited stays, not recorded


def record(
    ledger: Ledger,
    said: EntrySaid,
    *,
    dry_run: bool = False,
    sign: bool = False,
    ask: Ask | None = None,
    shown: Callable[[Outlook], None] | None = None,
) -> Recorded:
    """Record the working files as one entry, or only look where `dry_run`. What lists found to be
    faults is opened with it.

    `shown` gets what is about to be recorded, under the lock, before it is. With `sign` the key
    of the settings signs, and `ask` gives its passphrase.
    """
    facts, by = _facts(ledger, said), recorder()
    kind = said.kind or ("correction" if said.corrects else None)
    looked: list[Outlook] = []

    waiting = [one for one in found_in_lists(ledger) if said.only is None or one.path in said.only]
    opening = tuple(
        Finding("fault-from-list", "note", f"opens a fault: {one.item.fault}", where=one.place)
        for one in waiting
    )
    if waiting and not dry_run:
        act, ledger.act = ledger.act, None  # the act is the entry, not what it opens
        opened = open_found(ledger, waiting)
        ledger.act = act
        said = said if said.only is None else replace(said, only=(*said.only, *opened))

    def seen(found: Outlook) -> None:
        found = replace(found, findings=(*opening, *found.findings))
        looked.append(found)
        if shown:
            shown(found)

    entry, prepare = None, _prepare(ledger, facts, by, kind, said.session_is_new, seen)
    if dry_run:
        proposal = ledger.propose(said.only)
        ledger.judged(proposal, prepare(proposal), by.now.date())
    else:
        by = replace(by, sign=signer_of(ledger, ask) if sign else None)
        entry = ledger.record(facts, by, prepare=prepare, only=said.only)
    return Recorded(looked[-1], made(entry) if entry else None, by.shop != NAMELESS)


def approval(ledger: Ledger, name: str, by: str | None, message: str = "") -> EntrySaid:
    """What is said by an entry that somebody answers with for an earlier one; what is edited
    meanwhile stays out of it.

    InvalidInput where nobody is named, or where the same person has approved it already.
    """
    from buildlog.desk.acts.filing import entry_named

    one = entry_named(ledger, name)
    if not by:
        raise InvalidInput("nobody is named who approves it", hint="--approved-by WHO")
    if by in approvers(ledger.entries(), one):
        raise InvalidInput(f"{by} has approved entry {one.number} already", hint="buildlog history")
    said = message or f"approved: {one.subject}"[:200]
    return EntrySaid(said, kind="check", approved_by=by, approves=one.id, only=())


def record_working(
    ledger: Ledger, facts: EntryFacts, by: Recorder, *, kind: str | None = None,
    session_is_new: bool = False,
) -> Entry:  # fmt: skip
    """The same for who brings clock and shop: equal calls make equal entries everywhere."""
    prepare = _prepare(ledger, facts, by, kind, session_is_new, lambda _: None)
    return ledger.record(facts, by, prepare=prepare)


def _prepare(
    ledger: Ledger, facts: EntryFacts, by: Recorder, kind: str | None, session_is_new: bool,
    seen: Callable[[Outlook], None],
) -> Callable[[EntryProposal], EntryFacts]:  # fmt: skip
    def prepare(proposal: EntryProposal) -> EntryFacts:
        found, done = looked_ahead(ledger, proposal, facts, by.now.date(), kind, session_is_new)
        seen(found)
        return done

    return prepare


def made(entry: Entry) -> EntryMade:
    """An entry of the store as a result."""
    return EntryMade(entry.number, entry.id, entry.kind, entry.subject, entry.signed)


def _facts(ledger: Ledger, said: EntrySaid) -> EntryFacts:
    from buildlog.desk.acts.filing import entry_named, who

    told = asdict(said)
    told["odometer"] = said.odometer and without_thousands(said.odometer)
    del told["message"], told["session_is_new"], told["only"]
    for name in ("corrects", "resolves", "approves"):
        if told[name] is not None:
            told[name] = entry_named(ledger, told[name]).id
    told |= {"kind": said.kind or "build", "done_by": who(said.done_by)}
    return EntryFacts(said.message, **told)
