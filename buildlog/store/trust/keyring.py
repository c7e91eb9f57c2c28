"""Which keys count at which entry: the key register read along the history.

Trust goes by position, not by date. An event of the register takes effect with the entry
that first holds it, if that entry is signed by who may say so:

    add          any key in use; the very first key signs its own addition
    rotate       the old key signs the entry, the new one the `proof` in the event
    retire       any key in use, the retired one too
    compromised  any other key in use
    restart      the new key itself: it begins anew, after a handover or with all keys lost; the
                 lost ones are then out of use, for whoever finds one would sign as its owner.
                 Everybody sees the break.

A proof names the ledger and the entry before, so none can be used anywhere else.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from buildlog.errors import InvalidInput
from buildlog.records.keys import KeyEvent, read_register
from buildlog.store.trust import sshsig
from buildlog.store.trust.sshsig import PublicKey, public_key

REGISTER, SIGNERS = "keys/register.toml", "keys/allowed_signers"
PROOF_NAMESPACE = "buildlog-key"
_KINDS = ("ssh-", "ecdsa-sha2-", "sk-ssh-", "sk-ecdsa-")


@dataclass(frozen=True)
class Ring:
    """The keys at one place in the history, by their text."""

    names: Mapping[str, str] = field(default_factory=dict)  # every key there ever was
    gone: Mapping[str, str] = field(default_factory=dict)  # key -> why it is no longer in use
    origin: Mapping[str, str | None] = field(default_factory=dict)  # who vouched for it
    last_good: Mapping[str, tuple[str, ...]] = field(default_factory=dict)  # of compromised keys

    @property
    def active(self) -> dict[str, str]:
        return {key: name for key, name in self.names.items() if key not in self.gone}

    def trusted(self, key: str, known: Iterable[str]) -> bool:
        """Whether a key is known from outside, or vouched for by one that is."""
        here: str | None = key
        outside, seen = set(known), set()
        while here is not None and here not in seen:
            if here in outside:
                return True
            seen.add(here)
            here = self.origin.get(here)
        return False


def events(data: bytes | None) -> tuple[KeyEvent, ...]:
    """The events of a register; none if there is no file."""
    if data is None:
        return ()
    found = read_register(data, REGISTER).event
    for event in found:
        if public_key(event.key).text != event.key:
            raise InvalidInput("a key is not written as it should be", where=REGISTER)
    return found


def refusal(event: KeyEvent, ring: Ring, signer: str | None, statement: bytes) -> str | None:
    """Why an entry signed by `signer` may not add this event, as the end of a sentence."""
    if signer is None:
        return "is not signed"
    if event.kind in ("add", "rotate", "restart") and event.key in ring.names:
        return "names a key that was there before"
    if event.kind == "restart" or (event.kind == "add" and not ring.names):
        return None if signer == event.key else "is not signed by the new key itself"
    if event.kind == "rotate":
        if signer != event.after or event.after not in ring.active:
            return "is not signed by the old key"
        return None if _proves(event, statement) else "is not signed by the new key"
    if event.kind != "add" and event.key not in ring.names:
        return "names a key that was never added"
    if event.kind == "compromised" and (signer == event.key or event.last_good is None):
        return "is not signed by another key, or does not say up to where the key is good"
    return None if signer in ring.active else "is not signed by a key in use"


def _proves(event: KeyEvent, statement: bytes) -> bool:
    if event.proof is None:
        return False
    armour = sshsig.wrapped(event.proof.encode())
    answer, key = sshsig.check(armour, statement, PROOF_NAMESPACE)
    return answer == "good" and key is not None and key.text == event.key


def added(ring: Ring, event: KeyEvent, signer: str, said_in: str) -> Ring:
    """The ring with an accepted event; `said_in`: "entry 7", for reasons."""
    names, gone, origin = dict(ring.names), dict(ring.gone), dict(ring.origin)
    last_good = dict(ring.last_good)
    if event.kind in ("add", "rotate", "restart"):
        names[event.key] = event.name or PublicKey(*event.key.split()).fingerprint[:15]
        origin[event.key] = signer if signer != event.key else None
    if event.kind == "rotate" and event.after is not None:
        gone.setdefault(event.after, f"the key was replaced in {said_in}")
    elif event.kind == "restart" and event.earlier_lost:
        for key in ring.names:
            gone.setdefault(key, f"the keys before were said to be lost in {said_in}")
    elif event.kind == "retire":
        gone.setdefault(event.key, f"the key was retired in {said_in}")
    elif event.kind == "compromised" and event.last_good is not None:
        gone[event.key] = f"the key was declared compromised in {said_in}"
        last_good[event.key] = (*last_good.get(event.key, ()), event.last_good)
    return replace(ring, names=names, gone=gone, origin=origin, last_good=last_good)


def joined(rings: Iterable[Ring]) -> Ring:
    """What two lines know together."""
    names: dict[str, str] = {}
    gone: dict[str, str] = {}
    origin: dict[str, str | None] = {}
    last_good: dict[str, tuple[str, ...]] = {}
    for ring in rings:
        names |= ring.names
        gone |= ring.gone
        origin |= ring.origin
        for key, said in ring.last_good.items():
            last_good[key] = tuple(dict.fromkeys((*last_good.get(key, ()), *said)))
    return Ring(names, gone, origin, last_good)


def statement(ledger_id: str, after_entry: str, old: str, new: str) -> bytes:
    """What the new key of a rotation signs."""
    return (
        f"buildlog key rotation\nledger {ledger_id}\nafter {after_entry}\nold {old}\nnew {new}\n"
    ).encode()


# the two files, as functions of the events and nothing else


def register_text(held: Iterable[KeyEvent]) -> bytes:
    """keys/register.toml; events stand in an order of their own, so that lines can be joined."""
    from buildlog.records.toml import toml_write

    listed = sorted((event.model_dump(exclude_none=True) for event in held), key=json.dumps)
    return toml_write.write({"format": 1, "event": listed})


def signers_text(held: Iterable[KeyEvent]) -> bytes:
    """keys/allowed_signers for plain git: every key but the compromised ones."""
    listed = list(held)
    bad = {event.key for event in listed if event.kind == "compromised"}
    names = {e.key: e.name for e in listed if e.kind in ("add", "rotate", "restart")}
    lines = [
        f'{(name or "key").replace(" ", "-")} namespaces="git" {key}\n'
        for key, name in sorted(names.items())
        if key not in bad
    ]
    return "".join(lines).encode()


def known_signers(text: str) -> dict[str, str]:
    """Keys of an allowed_signers file or of .pub files, with their names."""
    found: dict[str, str] = {}
    for line in text.splitlines():
        words = line.split()
        at = next((n for n, word in enumerate(words) if word.startswith(_KINDS)), None)
        if line.lstrip().startswith("#") or not words:
            continue
        if at is None:
            raise InvalidInput(f"this line holds no public key: {line[:60]!r}")
        key = public_key(" ".join(words[at : at + 2]))
        found[key.text] = words[0] if at else key.fingerprint[:15]
    return found
