"""Changes of the key register, each a signed entry of its own."""

from __future__ import annotations

from pathlib import Path
from typing import TypedDict, Unpack

from buildlog.analysis.car.written import EntryMade, KeyEntered
from buildlog.desk.acts.filing import entry_named
from buildlog.desk.acts.record import made
from buildlog.desk.snapshot import settings
from buildlog.desk.snapshot.settings import Ask, recorder, signer
from buildlog.errors import NotFound
from buildlog.store.ledger import key_events
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.trust.sshsig import public_key


class Signing(TypedDict, total=False):
    """The file of the private key that signs, else that of the settings, and whom to ask for its
    passphrase."""

    key: Path | None
    ask: Ask | None


def add_key(
    ledger: Ledger, name: str, *, public: Path | None = None, **signing: Unpack[Signing]
) -> KeyEntered:
    """Enter the signing key under a name, or that of a `public` file, which it vouches for."""
    if public is not None and not public.is_file():
        raise NotFound("there is no such file", where=str(public))
    by = signer(**signing)
    other = public_key(public.read_text("utf-8", "replace")) if public else None
    entry = key_events.add(ledger, recorder(), by, name, other)
    return _entered(made(entry), name, (other or by.key).fingerprint)


def restart_keys(
    ledger: Ledger, name: str, *, reason: str | None = None, **signing: Unpack[Signing]
) -> KeyEntered:
    """Enter the signing key when all earlier ones are lost. The break stays visible."""
    by = signer(**signing)
    why = reason or "earlier keys are lost"
    entry = key_events.restart(ledger, recorder(), by, name, why, lost=True)
    return _entered(made(entry), name, by.key.fingerprint)


def replace_key(ledger: Ledger, name: str, new: Path, **signing: Unpack[Signing]) -> EntryMade:
    """Replace the signing key by a new one, entered under a name; both sign."""
    old, by = signer(**signing), signer(new, signing.get("ask"))
    return made(key_events.rotate(ledger, recorder(), old, by, name))


def retire_key(
    ledger: Ledger, named: str, *, reason: str | None = None, **signing: Unpack[Signing]
) -> EntryMade:
    """Take a key, by its name or fingerprint, out of use; what it signed stays good."""
    gone = key_events.named(key_events.judged(ledger).ring, named)
    return made(key_events.retire(ledger, recorder(), signer(**signing), gone, reason))


def give_key_up(
    ledger: Ledger,
    named: str,
    last_good: str,
    *,
    reason: str | None = None,
    **signing: Unpack[Signing],
) -> EntryMade:
    """Say that a key is in wrong hands, and the last entry it is good for; another one signs."""
    gone = key_events.named(key_events.judged(ledger).ring, named)
    last, by = entry_named(ledger, last_good), signer(**signing)
    return made(key_events.compromised(ledger, recorder(), by, gone, last, reason))


def _entered(entry: EntryMade, name: str, fingerprint: str) -> KeyEntered:
    to_write = str(settings.path()) if settings.load().signing_key is None else None
    return KeyEntered(entry, name, fingerprint, to_write)
