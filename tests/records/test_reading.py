"""TOML text to record: every error at once, each with file, line, column and what to write."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildlog.errors import InvalidInput
from buildlog.findings import Finding
from buildlog.records import reading
from buildlog.records.car.configuration import Configuration
from buildlog.records.car.vehicle import Work
from buildlog.records.reading import load, read
from buildlog.records.session import Session
from buildlog.records.toml.toml_read import parse_toml
from tests.counting import bytes_held, lines_run

HEAD = 'format = 1\n\n[car]\nname = "Marrow Tern"\n'


def wrong(text: str) -> list[Finding]:
    record, findings = load(Configuration, text.encode(), "car.toml")
    assert record is None
    return findings


# Text, the place, the sentence, and what the hint holds.
BROKEN = [
    ('[engine]\nbore = "90,2 mm"\n', "line 6, column 8",
     'engine.bore: "90,2 mm" is not a number and a unit', '"90.2 mm"'),
    ("[engine]\n  bore =   84\n", "line 6, column 12",
     "engine.bore: 84 needs a unit", 'write "84 mm"'),
    ('[engine]\nbore = "3.3 mm"\n', "line 6, column 8",
     'engine.bore: "3.3 mm" is outside 20 mm to 300 mm', 'did you mean "3.3 in"?'),
    ('[engine]\nbroe = "84 mm"\n', "line 6, column 8",
     "engine.broe is not a known field", "did you mean bore"),
    ('[engin]\nbore = "84 mm"\n', "line 5, column 1",
     "engin is not a known field", "did you mean engine"),
    ("[engine]\ncompression_ratio = 98\n", "line 6, column 21",
     "engine.compression_ratio is 98; the highest accepted is 30", "cylinder volume"),
    ("[engine]\ncylinders = 6.0\n", "line 6, column 13",
     "engine.cylinders is 6.0; it should be a valid integer", "Number of cylinders"),
    ('[engine]\nlayout = "boxer"\n', "line 6, column 10",
     'engine.layout is "boxer", which it cannot be', "inline, vee, flat, rotary"),
    ('[engine.part]\nfitted_on = "2026-03-14"\n', "line 6, column 13",
     'engine.part.fitted_on is "2026-03-14", not a day', "without quotes: 2026-03-14"),
    ("[fuel]\nron = nan\n", "line 6, column 7",
     "fuel.ron is nan; it should be a finite number", "octane"),
    ("[[work]]\nnote = \"x\"\n", "line 5, column 1",
     "work[1].item is missing", "What was worked on"),
    ("[gearbox]\nratios = [\n  3.3,\n  \"2.0\",\n]\n", "line 6, column 10",
     'gearbox.ratios[2] is "2.0"; it should be a valid number', ""),
    ('[induction.boost]\ntarget_gauge = "22 psia"\n', "line 6, column 16",
     'induction.boost.target_gauge: "psia" is an absolute pressure, and this field holds a gauge '
     "pressure", "write a gauge pressure in psi"),
    ('[chassis]\nmass = "1385 lb*ft"\n', "line 6, column 8",
     'chassis.mass: "lb*ft" measures torque, not mass', "known here"),
    ('[engine]\nnote = "a\\u0007b"\n', "line 6, column 8",
     "engine.note: the text holds a character that cannot be shown: U+0007", "type the text anew"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "place", "sentence", "hint"), BROKEN)
def test_every_error_has_place_sentence_and_hint(text, place, sentence, hint) -> None:
    (found,) = wrong(HEAD + text)
    assert found.severity == "error"
    assert found.where == f"car.toml, {place}"
    assert found.text.startswith(sentence)
    assert hint in (found.hint or "")


def test_all_errors_come_in_one_run() -> None:
    text = HEAD + '[engine]\nbore = "84"\nstrok = "1 mm"\n\n[fuel]\nron = "95"\n'
    places = [found.where for found in wrong(text)]
    assert places == [
        "car.toml, line 6, column 8", "car.toml, line 7, column 9", "car.toml, line 10, column 7",
    ]  # fmt: skip
    with pytest.raises(InvalidInput, match=r"\(and 2 more\)"):
        read(Configuration, text.encode(), "car.toml")


SYNTAX = [
    ('[engine\nbore = "84 mm"\n', "line 5, column"),
    ('[engine]\nbore = "84 mm\n', "line 6, column"),
    ("[engine]\nbore = 84 mm\n", "line 6, column"),
    ("[engine]\nbore 84\n", "line 6, column"),
    ("[engine]\nbore = \n", "line 6, column"),
    ("[engine]\ncylinders = 6\ncylinders = 8\n", "line 7, column"),
    ("[engine]\n\n[engine]\n", "line 7, column"),
    ("[gearbox]\nratios = [3.3, 2.0\n\n[x]\n", "line 8, column"),
    ('[engine]\nnote = """never ended\n', "line 7"),
    ("[engine]\nyear = 012\n", "line 6, column"),
    ('[engine]\nnote = "\\q"\n', "line 6, column"),
]


@pytest.mark.parametrize(("text", "place"), SYNTAX)
def test_broken_syntax_has_file_line_and_column(text: str, place: str) -> None:
    with pytest.raises(InvalidInput, match="this is not TOML") as refused:
        parse_toml((HEAD + text).encode(), "car.toml")
    assert (refused.value.where or "").startswith(f"car.toml, {place}")
    assert refused.value.hint


def test_a_newer_format_is_said_to_be_newer() -> None:
    with pytest.raises(InvalidInput, match="format 2; this program reads up to 1") as refused:
        load(Configuration, HEAD.replace("1", "2", 1).encode(), "car.toml")
    assert refused.value.hint == "update buildlog"


@pytest.mark.parametrize("value", ['"1"', "0", "-3", "[1]"])
def test_a_format_that_is_none_is_refused(value: str) -> None:
    (found,) = wrong(HEAD.replace("format = 1", f"format = {value}"))
    assert found.paths == ("format",)


def test_line_ends_and_byte_order_mark_do_not_matter() -> None:
    text = HEAD + '[engine]\nbore = "84.0 mm"\n'
    plain = read(Configuration, text.encode(), "car.toml")
    assert read(Configuration, text.replace("\n", "\r\n").encode(), "car.toml") == plain
    assert read(Configuration, b"\xef\xbb\xbf" + text.encode(), "car.toml") == plain


@pytest.mark.parametrize("data", [b"\xff\xfea\x00", b"name = 'M\xe4rz'\n", b"\x80"])
def test_what_is_not_utf8_is_said(data: bytes) -> None:
    with pytest.raises(InvalidInput, match="not UTF-8 text") as refused:
        parse_toml(data, "car.toml")
    assert (refused.value.where or "").startswith("car.toml, line 1")


BOMBS = [
    "a = " + "[" * 5000,
    "a = " + "[" * 500 + "]" * 500,
    "a = " + "{a=" * 500 + "1" + "}" * 500,
    ".".join("a" * 1000) + " = 1",
    "[" + ".".join("a" * 1000) + "]",
    "a = " + "9" * 100_000,
    "a = 0x" + "9" * 100_000,
    "x" * (1 << 20) + "y",
    'a = "' + "\\" * 100_001,
]


@pytest.mark.parametrize("text", BOMBS, ids=[text[:12] for text in BOMBS])
def test_what_no_person_writes_is_refused_with_little_work(text: str) -> None:
    """In work and memory that grow with the text and no faster: its characters are seen once."""
    with lines_run() as run, pytest.raises(InvalidInput):
        parse_toml(text.encode(), "car.toml")
    assert run.number < 1_000 + 10 * len(text)
    with bytes_held() as held, pytest.raises(InvalidInput):
        parse_toml(text.encode(), "car.toml")
    assert held.number < 100_000 + 5 * len(text)


def test_prose_with_many_full_stops_is_fine() -> None:
    note = "one. " * 40
    record = read(Configuration, (HEAD + f'note = "{note}"\n').encode(), "car.toml")
    assert record.car.note == note


def test_a_note_may_hold_a_long_serial_number() -> None:
    text = HEAD + f'[engine.part]\nserial = "{"7" * 45}"\n'
    assert read(Configuration, text.encode(), "car.toml").engine is not None


def test_two_items_of_one_name_are_an_error() -> None:
    text = HEAD + '[[work]]\nitem = "paint"\n\n[[work]]\nitem = "paint"\n'
    _, (found,) = load(Configuration, text.encode(), "car.toml")
    assert (found.code, found.severity) == ("doubled", "error")
    assert found.text == 'two [[work]] items are called "paint"'
    assert found.where == "car.toml, line 8, column 1"
    with pytest.raises(InvalidInput):
        read(Configuration, text.encode(), "car.toml")


def test_two_runs_of_one_file_need_keys() -> None:
    head = "format = 1\ndate = 2026-03-14\n"
    two = '[[pull]]\nfile = "a.csv"\n\n[[pull]]\nfile = "a.csv"\n'
    _, (found,) = load(Session, (head + two).encode(), "session.toml")
    assert found.code == "doubled"
    keyed = two.replace('"a.csv"\n\n', '"a.csv"\nkey = "run 1"\n\n')
    assert load(Session, (head + keyed).encode(), "session.toml")[1] == []


def test_a_channel_that_is_none_names_the_nearest() -> None:
    text = 'format = 1\ndate = 2026-03-14\n\n[[column]]\nchannel = "enginespeed"\nname = "n"\n'
    _, (found,) = load(Session, text.encode(), "session.toml")
    assert found.where == "session.toml, line 5, column 11"
    assert found.text == 'column[1].channel: "enginespeed" is not a channel'
    assert found.hint == "did you mean engine_speed?"


def test_records_are_frozen() -> None:
    record = read(Configuration, HEAD.encode(), "car.toml")
    with pytest.raises(Exception, match="frozen"):
        record.car.name = "other"  # type: ignore[misc]
    assert hash(record) == hash(read(Configuration, HEAD.encode(), "car.toml"))


def test_text_is_kept_in_one_form_of_unicode() -> None:
    record = read(Configuration, HEAD.replace("Tern", "Te\u0308rn").encode(), "car.toml")
    assert record.car.name == "Marrow T\u00ebrn"


def refusals(data: bytes) -> list[str]:
    """The places of everything that is wrong with a file; none where it is read."""
    try:
        record, findings = load(Configuration, data, "car.toml")
    except InvalidInput as error:
        return [error.where or ""]
    assert (record is None) is bool(findings)
    return [finding.where or "" for finding in findings]


@settings(max_examples=200)
@given(st.binary(max_size=200))
def test_any_bytes_are_read_or_refused_with_a_place(data: bytes) -> None:
    assert all(place.startswith("car.toml") for place in refusals(data))


PIECES = ["[", "]", "[[", "]]", "engine", "car", ".", "=", '"', "'", "1", "2026-03-14", "\n",
          " ", "{", "}", ",", '"""', "#", "name", "bore", "84 mm", "nan", "true", "\\",
          "\t"]  # fmt: skip


@settings(max_examples=300)
@given(st.lists(st.sampled_from(PIECES), max_size=30).map("".join))
def test_any_pieces_of_toml_are_read_or_refused_with_a_place(text: str) -> None:
    assert all("line" in place for place in refusals((HEAD + text).encode()))


def test_a_day_stays_a_day() -> None:
    text = HEAD + "[engine.part]\nfitted_on = 2026-03-14\n"
    record: Any = read(Configuration, text.encode(), "car.toml")
    assert record.engine.part.fitted_on == dt.date(2026, 3, 14)


class Compared(str):
    """A name that counts how often it is held against another one."""

    times = 0

    def __eq__(self, other: object) -> bool:
        Compared.times += 1
        return str.__eq__(self, str(other))

    __hash__ = str.__hash__


@pytest.mark.parametrize("count", [100, 1_000])
def test_many_items_are_held_against_each_other_once(count: int) -> None:
    Compared.times = 0
    work = tuple(Work.model_construct(item=Compared(f"item {n}")) for n in range(count))
    record = Configuration.model_construct(format=1, car=None, work=work)
    assert list(reading._doubled(record, b"", "car.toml")) == []
    assert Compared.times < count


MANY = {
    "doubled": lambda count: HEAD + '[[work]]\nitem = "paint"\n' * count,
    "unknown": lambda count: HEAD + '[[work]]\nitme = "paint"\n' * count,
    "wrong": lambda count: HEAD + "[engine]\n" + "".join(f"x{n} = 1\n" for n in range(count)),
    "good": lambda count: HEAD + "".join(f'[[work]]\nitem = "n {n}"\n' for n in range(count)),
}


@pytest.mark.parametrize("kind", MANY)
def test_ten_times_as_many_items_cost_ten_times_as_much(kind: str) -> None:
    spent = []
    load(Configuration, MANY[kind](2).encode(), "car.toml")
    for count in (100, 1_000):
        with lines_run() as run:
            load(Configuration, MANY[kind](count).encode(), "car.toml")
        spent.append(run.number)
    assert spent[1] < 15 * spent[0]
