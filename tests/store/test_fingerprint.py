"""The fingerprint on paper: four answers, and no slip of the pen passes."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from buildlog.store.ledger import fingerprint as fp
from buildlog.store.ledger.ledger import Ledger


def test_the_four_answers(demo: Path) -> None:
    with Ledger.open(demo) as ledger:
        now = fp.fingerprint(ledger)
        third = ledger.entries()[2]
        assert fp.compare(now, ledger) == "equal"
        assert fp.compare(fp.of(third.id, third.digest or ""), ledger) == "earlier"
        assert fp.compare(fp.of("1" * 40, "2" * 64), ledger) == "unrelated"
        assert fp.compare(now[:-1], ledger) == "mistyped"


def test_every_state_has_its_own(demo: Path) -> None:
    with Ledger.open(demo) as ledger:
        found = {fp.of(entry.id, entry.digest or "") for entry in ledger.entries()}
        assert len(found) == len(ledger.entries())


def test_no_single_slip_passes() -> None:
    """Each character replaced by each other one, and each pair of neighbours swapped."""
    chance = random.Random(8)
    for _ in range(20):
        right = fp.of(f"{chance.getrandbits(160):040x}", f"{chance.getrandbits(256):064x}")
        plain = right.replace("-", "")
        for at in range(len(plain)):
            for other in set(fp.ALPHABET) - {plain[at]}:
                assert fp.normal(plain[:at] + other + plain[at + 1 :]) is None
        for at in range(fp.LENGTH - 1):
            swapped = plain[:at] + plain[at + 1] + plain[at] + plain[at + 2 :]
            assert swapped == plain or fp.normal(swapped) is None


@pytest.mark.parametrize("change", [str.lower, lambda t: t.replace("-", " "), lambda t: f" {t} "])
def test_it_may_be_typed_as_one_likes(change: object) -> None:
    right = fp.of("a" * 40, "b" * 64)
    assert fp.normal(change(right)) == right  # type: ignore[operator]
    assert fp.normal(right.replace("0", "O").replace("1", "L")) == right
