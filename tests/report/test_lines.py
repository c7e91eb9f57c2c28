"""Plain text for a terminal: aligned, wrapped, and with nothing in it that a terminal obeys."""

from __future__ import annotations

import unicodedata

from hypothesis import given
from hypothesis import strategies as st

from buildlog.findings import Finding
from buildlog.report.lines import PAGE, clean, finding_lines, shorten, table, wrap

OBEYED = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}


@given(st.text())
def test_nothing_that_a_terminal_obeys_is_left(text: str) -> None:
    left = {unicodedata.category(c) for c in clean(text) if c != "\n"}
    assert left & OBEYED == set()


@given(st.text(st.characters(categories=["L", "N", "P", "S", "Zs"])))
def test_ordinary_text_stays_as_it_is(text: str) -> None:
    assert clean(text) == text


def test_escapes_are_readable() -> None:
    assert clean("\x1b[2J") == "\\x1b[2J"
    assert clean("a\u202eb") == "a\\u202eb"
    assert clean("\r\t\x9b") == "\\x0d\\x09\\x9b"
    assert clean("\U000e0041") == "\\ue0041"


def test_columns_are_aligned() -> None:
    lines = table([["entry", "peak"], ["1", "150.9 hp"], ["12", ""]], right=(1,), indent=0)
    assert lines == ["entry      peak", "1      150.9 hp", "12"]
    assert table([]) == []
    assert table([["a"], ["b", "c"]], indent=0) == ["a", "b  c"]


@given(st.text(st.sampled_from("abc -"), max_size=400), st.integers(0, 8))
def test_lines_are_no_wider_than_the_screen(text: str, indent: int) -> None:
    words = max((len(word) for word in text.split()), default=0)
    for line in wrap(text, indent):
        assert len(line) <= max(PAGE.width, indent + words)


@given(st.text(max_size=60), st.integers(4, 40))
def test_a_cut_is_shown(text: str, width: int) -> None:
    cut = shorten(text, width)
    assert len(cut) <= width
    assert cut == text if len(text) <= width else cut.endswith("...")


def test_findings_worst_first_with_place_and_hint() -> None:
    lines = finding_lines(
        [
            Finding("a", "note", "something else"),
            Finding("b", "error", "it is broken", where="car.toml, line 3", hint="mend it"),
        ]
    )
    assert lines == [
        "  error   car.toml, line 3: it is broken",
        "          do: mend it",
        "  note    something else",
    ]


def test_a_finding_of_outside_text_cannot_steer_the_terminal() -> None:
    (line,) = finding_lines([Finding("a", "note", "pull \x1b[31mx")])
    assert "\x1b" not in line
