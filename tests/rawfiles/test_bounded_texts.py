"""A text of any length costs no more than its length: what is looked at at once is bounded."""

from __future__ import annotations

import re

import pytest

from buildlog.analysis.workshop import privacy
from buildlog.rawfiles import header

SIGNS = ["wheel ", "(", "[", "/", " in", "_", "7", ".", "-"]


@pytest.mark.parametrize("sign", SIGNS)
def test_a_header_is_read_by_its_first_letters(sign: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """A cell of 4,000 words took 45 s: no pattern may see all of it."""
    seen: list[int] = []
    match = re.match

    def counted(pattern: str, text: str, *more: int) -> object:
        seen.append(len(text))
        return match(pattern, text, *more)

    monkeypatch.setattr(header.re, "match", counted)
    assert len(header.read_heading(sign * 20_000).words) <= header.LONGEST
    assert max(seen) <= header.LONGEST


@pytest.mark.parametrize("before", [0, 249, 250, 251, 399, 400, 401, 5_000])
@pytest.mark.parametrize(
    ("said", "kind"),
    [("robin@quarrylane.invalid", "an e-mail address"), ("+49 30 1234567", "a telephone number"),
     ("12 Quarry Lane", "a street address")],
)  # fmt: skip
def test_what_looks_personal_is_found_anywhere_in_a_long_line(
    before: int, said: str, kind: str
) -> None:
    line = f"{'x ' * (before // 2)} {said} {'y ' * 3_000}"
    assert (1, kind) in set(privacy.places(line))


def test_a_long_line_is_looked_at_in_pieces() -> None:
    pieces = list(privacy._pieces("7" * 100_000))
    assert sum(map(len, pieces)) < 2 * 100_000
    assert max(map(len, pieces)) <= 400
