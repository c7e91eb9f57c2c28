"""The fingerprint of a history, for paper: short enough to copy by hand, with check characters.

100 bits of the SHA-256 of the newest entry's id and digest, as 20 characters of Crockford's
base 32 (no I, L, O, U) and two check characters, in groups of four:

    7KQ4-M2ZX-90DT-HC3V-81RA-5W

A fingerprint names one state of one ledger: whoever holds it can tell whether a ledger shown
later still contains that state.
"""

from __future__ import annotations

import hashlib
from typing import Literal

from buildlog.store.ledger import entries
from buildlog.store.ledger.reader import Reader

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
LENGTH = 20  # characters of five bits
_PRIME = 1021  # below 32 * 32: no single wrong character, no swapped neighbours pass unseen
_READ_AS = str.maketrans("OIL", "011")

Answer = Literal["equal", "earlier", "unrelated", "mistyped"]


def fingerprint(ledger: Reader) -> str:
    """The fingerprint of the newest state of a ledger."""
    tip = ledger.newest()
    return of(tip, ledger.repo.digest_of(tip))


def of(commit_id: str, digest: str) -> str:
    """The fingerprint of one state: the commit's id (40 hex digits) and its digest (64)."""
    whole = hashlib.sha256(f"{commit_id} {digest}".encode("ascii")).digest()
    number = int.from_bytes(whole, "big") >> (256 - 5 * LENGTH)
    text = _characters(number, LENGTH) + _check(number)
    return "-".join(text[at : at + 4] for at in range(0, len(text), 4))


def compare(text: str, ledger: Reader) -> Answer:
    """How a fingerprint on paper stands to a ledger.

    "equal": the newest state; "earlier": a state that the ledger still contains;
    "unrelated": none of its states; "mistyped": no fingerprint at all.
    """
    given = normal(text)
    if given is None:
        return "mistyped"
    repo, tip = ledger.repo, ledger.repo.tip()
    if tip is None:
        return "unrelated"
    if of(tip, repo.digest_of(tip)) == given:
        return "equal"
    states = (of(one, repo.digest_of(one)) for one in entries.graph(repo, tip))
    return "earlier" if given in states else "unrelated"


def normal(text: str) -> str | None:
    """A fingerprint as it is printed, however it was typed; None where it is none."""
    plain = "".join(text.upper().split()).replace("-", "").translate(_READ_AS)
    if len(plain) != LENGTH + 2 or set(plain) - set(ALPHABET):
        return None
    number = 0
    for character in plain[:LENGTH]:
        number = number * 32 + ALPHABET.index(character)
    if plain[LENGTH:] != _check(number):
        return None
    return "-".join(plain[at : at + 4] for at in range(0, len(plain), 4))


def _check(number: int) -> str:
    return _characters(number % _PRIME, 2)


def _characters(number: int, length: int) -> str:
    return "".join(ALPHABET[(number >> (5 * place)) & 31] for place in reversed(range(length)))
