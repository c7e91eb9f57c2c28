"""The table of changes: every field is named, whatever is cut."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from hypothesis import given, settings

from buildlog.analysis.car.changes import Change, changes
from buildlog.records.car.configuration import Configuration
from buildlog.records.key_words import key_words
from buildlog.records.paths import parts
from buildlog.report.as_text.changes_text import brief_lines, change_lines, value_text
from buildlog.report.lines import PAGE, printed
from buildlog.units import parse
from tests.builders import make_configuration
from tests.documents import documents


def named(change: Change, text: str) -> bool:
    """Whether the field's last word stands in the text, however the lines are broken."""
    last = key_words(parts(change.path)[-1])
    return last in " ".join(text.split())


@settings(max_examples=60)
@given(documents(most=60), documents(most=60))
def test_every_changed_field_is_named(one: dict[str, Any], other: dict[str, Any]) -> None:
    found = changes(Configuration.model_validate(one), Configuration.model_validate(other))
    text = "\n".join(change_lines(found))
    assert [change.path for change in found if not named(change, text)] == []


@settings(max_examples=60)
@given(documents(most=60), documents(most=60))
def test_in_brief_every_field_is_shown_or_counted(
    one: dict[str, Any], other: dict[str, Any]
) -> None:
    found = changes(Configuration.model_validate(one), Configuration.model_validate(other))
    lines = brief_lines(found)
    more = [line for line in lines if line.startswith("  and ")]
    counted = int(more[0].split()[1]) if more else 0
    shown = lines.index(more[0]) if more else len(lines)
    assert max(shown - 1, 0) + counted == len(found)
    assert all(len(line) <= 80 for line in lines)
    assert len(lines) <= 16


@settings(max_examples=40)
@given(documents(most=60), documents(most=60))
def test_in_full_every_value_stands(one: dict[str, Any], other: dict[str, Any]) -> None:
    found = changes(Configuration.model_validate(one), Configuration.model_validate(other))
    before, PAGE.width = PAGE.width, 4000  # wide enough for every value on a line of its own
    try:
        lines = change_lines(found, full=True)
    finally:
        PAGE.width = before
    assert len(lines) == len(found) + 1 if found else lines == []
    for change in found:
        shown = printed(value_text(change.new, change.path)).strip()
        assert any(shown in printed(line) for line in lines)


def test_in_full_no_line_is_wider_than_the_screen_and_no_word_is_lost() -> None:
    told = " ".join(["maker's workshop manual;"] * 9)
    new = make_configuration({"engine.source": told, "calibration.file_sha256": "ab" * 32})
    found = changes(make_configuration(), new)
    lines = change_lines(found, full=True)
    assert max(map(len, lines)) <= PAGE.width
    assert " ".join(lines).count("manual;") == 9
    assert "".join("".join(lines).split()).count("ab") >= 30


def test_values_as_their_author_wrote_them() -> None:
    assert value_text(parse("3.551 in", ("length",))) == "3.551 in"
    assert value_text(None) == "-"
    assert value_text(True) == "yes"
    assert value_text((3.3, 2.0)) == "3.3, 2"
    assert value_text(9.25) == "9.25"
    assert value_text(dt.date(2026, 3, 14)) == "2026-03-14"
    assert value_text("two\nlines") == "two lines"


def test_a_large_number_is_not_rounded() -> None:
    """Six digits are not enough for everything: a heat, a count, a serial written as a number."""
    assert value_text(12345678) == "12345678"
    assert value_text(1234567.5) == "1234567.5"


def test_found_changes_stand_apart() -> None:
    old = make_configuration()
    new = make_configuration({"final_drive.ratio": 4.1, "engine.bore": "84.5 mm"})
    made, found = changes(old, new)
    lines = change_lines([made, Change(found.path, found.kind, found.old, found.new, made=False)])
    assert [line.split()[0] for line in lines] == ["changed", "engine", "changed", "final"]
    assert lines[2].startswith("changed by others, as found")


@pytest.mark.parametrize("full", [False, True])
def test_control_characters_do_not_pass(full: bool) -> None:
    change = Change("work[a\x1b[31m].note", "added", None, "x\x9b31m\u202e", made=True)
    text = "\n".join(change_lines([change], full))
    assert not set(text) & {"\x1b", "\x9b", "\u202e"}
