"""Plain text for a terminal: aligned, wrapped, and with nothing in it that a terminal obeys."""

from __future__ import annotations

import unicodedata

from hypothesis import given
from hypothesis import strategies as st

from buildlog.findings import Finding
from buildlog.report.lines import PAGE, clean, finding_lines, folded, shorten, table, wrap

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


CELL = st.text(st.sampled_from("abc 12±"), max_size=24).map(lambda text: " ".join(text.split()))


@given(st.lists(st.lists(CELL, min_size=3, max_size=3), min_size=1, max_size=6),
       st.sampled_from([60, 80]))  # fmt: skip
def test_a_table_that_is_too_wide_goes_on_below_and_loses_nothing(
    rows: list[list[str]], width: int
) -> None:
    """Each row one text, within the page, with all its letters; no word is broken that fits."""
    before, PAGE.width = PAGE.width, width
    try:
        wide = [[cell * 4 for cell in row] for row in rows]
        told = table(wide)
    finally:
        PAGE.width = before
    assert len(told) == len(rows)
    longest = max((len(line) for text in told for line in text.split("\n")), default=0)
    words = max((len(word) for row in wide for cell in row for word in cell.split()), default=0)
    if words <= 16:
        assert longest <= width
    for row, text in zip(wide, told, strict=True):
        assert sorted("".join(row).replace(" ", "")) == sorted("".join(text.split()))


def test_a_figure_in_a_narrow_cell_keeps_its_sign_and_unit() -> None:
    before, PAGE.width = PAGE.width, 40
    try:
        told = table([["peak power at the wheels of this car", "211.1", "+60.2 ± 5.6 hp", "shown"]])
    finally:
        PAGE.width = before
    lines = "\n".join(told).split("\n")
    assert max(map(len, lines)) <= 40
    assert any("+60.2 ± 5.6 hp" in line for line in lines)


def test_what_stands_last_in_a_row_goes_on_in_its_place() -> None:
    before, PAGE.width = PAGE.width, 60
    try:
        line = "  buildlog next                what to do now, what must not be started"
        told = folded(line)
        copied = folded('  buildlog torque add "header flange" --count 12 --torque "22 N*m" --new')
    finally:
        PAGE.width = before
    assert told == ["  buildlog next                what to do now, what must not",
                    "                               be started"]  # fmt: skip
    assert len(copied) == 1
