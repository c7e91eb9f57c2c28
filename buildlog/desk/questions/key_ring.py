"""The keys of a ledger, and what became of each."""

from __future__ import annotations

from buildlog.analysis.car.written import KeyState
from buildlog.store.ledger import key_events
from buildlog.store.ledger.reader import Reader
from buildlog.store.trust.sshsig import PublicKey


def keys(ledger: Reader) -> list[KeyState]:
    """Every key there ever was, first to last."""
    found = key_events.judged(ledger)
    signers = [signed.key.text for signed in found.commits.values() if signed.key]
    return [
        KeyState(
            name,
            PublicKey(*key.split()).fingerprint,
            found.ring.gone.get(key),
            signers.count(key),
        )
        for key, name in found.ring.names.items()
    ]
