"""Changes of the key register, recorded as signed entries of their own."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from typing import Literal

from buildlog.errors import InvalidInput, NotFound, TrustError
from buildlog.records.keys import KeyEvent
from buildlog.store.git import ordering
from buildlog.store.git.message import EntryFacts
from buildlog.store.ledger import entries
from buildlog.store.ledger.append import Recorder
from buildlog.store.ledger.entries import Entry
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.ledger.reader import Reader
from buildlog.store.trust import keyring, signatures, sshsig
from buildlog.store.trust.keyring import REGISTER, SIGNERS, Ring
from buildlog.store.trust.sshsig import PublicKey, Signer

KIND = "check"  # of the entries' kinds the one that says nothing about the car itself


def judged(ledger: Reader, known: dict[str, str] | None = None) -> signatures.Judgement:
    """Every signature and key event of a ledger."""
    tip = ledger.repo.tip()
    if tip is None:
        return signatures.Judgement()
    called = {entry.id: f"entry {entry.number}" for entry in ledger.entries()}
    graph = entries.graph(ledger.repo, tip)
    return signatures.judge(ledger.repo, graph, tip, called, known or {})


def held(ledger: Reader) -> tuple[KeyEvent, ...]:
    """The events of the register at the tip."""
    return keyring.events(ledger.repo.held(ledger.repo.tip(), REGISTER))


def may_sign(ledger: Ledger, signer: Signer) -> None:
    """TrustError if an entry signed by this key would be signed by an unknown key."""
    ring = judged(ledger).ring
    if signer.key.text in ring.active:
        return
    why = ring.gone.get(signer.key.text, "it is not in this ledger's register")
    raise TrustError(
        f"the key {signer.key.fingerprint[:23]} cannot sign here: {why}",
        hint="buildlog key add enters a key; buildlog key list shows those in use",
    )


def add(
    ledger: Ledger, by: Recorder, signer: Signer, name: str, key: PublicKey | None = None
) -> Entry:
    """Enter a key: the signer's own as the first, any other by the word of one in use."""
    event = KeyEvent(kind="add", key=(key or signer.key).text, name=name)
    return _record(ledger, by, signer, event, f"key added: {name}")


def restart(
    ledger: Ledger, by: Recorder, signer: Signer, name: str, reason: str, *, lost: bool
) -> Entry:
    """Enter a key that no other vouches for; those before stay in use unless they are `lost`. The
    break stays visible for ever."""
    gone: Literal[True] | None = True if lost else None
    event = KeyEvent(
        kind="restart", key=signer.key.text, name=name, reason=reason, earlier_lost=gone
    )
    return _record(ledger, by, signer, event, f"keys lost, started again with: {name}")


def rotate(ledger: Ledger, by: Recorder, old: Signer, new: Signer, name: str) -> Entry:
    """Replace a key by a new one; both sign."""
    tip = ledger.newest()
    said = keyring.statement(ledger.id or "", tip, old.key.text, new.key.text)
    proof = sshsig.bare(new(said, keyring.PROOF_NAMESPACE))
    event = KeyEvent(kind="rotate", key=new.key.text, name=name, after=old.key.text, proof=proof)
    return _record(ledger, by, old, event, f"key replaced by: {name}", expect=tip)


def retire(ledger: Ledger, by: Recorder, signer: Signer, key: str, reason: str | None) -> Entry:
    """Take a key out of use from the next entry on."""
    ring = judged(ledger).ring
    if set(ring.active) == {key}:
        raise InvalidInput(
            "this is the only key in use", hint="add or rotate to another one before"
        )
    event = KeyEvent(kind="retire", key=key, reason=reason)
    return _record(ledger, by, signer, event, f"key retired: {ring.names.get(key, '?')}")


def compromised(
    ledger: Ledger, by: Recorder, signer: Signer, key: str, last_good: Entry, reason: str | None
) -> Entry:
    """Say that a key is in wrong hands, and the last entry it is trusted for."""
    ring = judged(ledger).ring
    event = KeyEvent(kind="compromised", key=key, last_good=last_good.id, reason=reason)
    name = ring.names.get(key, "?")
    _refuse_later(ledger, ring.last_good.get(key, ()), last_good, name)
    words = f"key compromised: {name}, good up to entry {last_good.number}"
    return _record(ledger, by, signer, event, words)


def _refuse_later(ledger: Ledger, said: Sequence[str], last_good: Entry, name: str) -> None:
    """Where several say so, the earliest entry counts: a later one would be recorded in vain."""
    before = ordering.ancestors(entries.graph(ledger.repo, last_good.id), last_good.id)
    counts = next((one for one in ledger.entries() if one.id in before and one.id in said), None)
    if counts is not None:
        raise InvalidInput(
            f"{name} was declared compromised already, good up to entry {counts.number}",
            hint="only an earlier entry changes that",
        )


def named(ring: Ring, word: str) -> str:
    """The key that a name or the start of a fingerprint means."""
    found = [
        key
        for key, name in ring.names.items()
        if name == word or PublicKey(*key.split()).fingerprint.startswith(word)
    ]
    if len(found) == 1:
        return found[0]
    known = ", ".join(sorted(ring.names.values())) or "none yet"
    raise NotFound(f'"{word}" names {len(found) or "no"} keys', hint=f"known: {known}")


def _record(
    ledger: Ledger, by: Recorder, signer: Signer, event: KeyEvent, words: str,
    expect: str | None = None,
) -> Entry:  # fmt: skip
    """Record an event, after the same judgement that `verify` will make of it."""
    tip = ledger.newest()
    ring, old = judged(ledger).ring, held(ledger)
    said = keyring.statement(ledger.id or "", tip, event.after or "", event.key)
    why = keyring.refusal(event, ring, signer.key.text, said)
    if why:
        raise TrustError(f"the key cannot be entered: the change {why}", hint="buildlog key list")
    whole = (*old, event)
    files: dict[str, bytes | None] = {
        REGISTER: keyring.register_text(whole),
        SIGNERS: keyring.signers_text(whole),
    }
    facts = EntryFacts(words, kind=KIND, changed=words)
    by = dataclasses.replace(by, sign=signer)
    return ledger.append(files, facts, by, expect=expect or tip)
