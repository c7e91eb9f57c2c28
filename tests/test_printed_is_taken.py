"""What the program prints it also takes: quantities, dates, odometers and names of every screen."""

from __future__ import annotations

import datetime as dt
import re
import shlex
import tomllib
from collections.abc import Iterator
from pathlib import Path

import click
import pytest

from buildlog.cli.common import DAY
from buildlog.desk.acts.dyno.dyno_conditions import day
from buildlog.desk.questions.known_names import known_names
from buildlog.desk.snapshot import opening
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.records.car.configuration import Configuration
from buildlog.records.days_said import day_said
from buildlog.records.leaf_text import plain as plain_leaf
from buildlog.records.paths import Field, fields, leaves, same_value, toml_value
from buildlog.records.toml import toml_edit
from buildlog.report.as_text.changes_text import value_text
from buildlog.report.in_units import in_units
from buildlog.report.lines import printed
from buildlog.report.numbers import OTHER, PRINTED, Display, all_in, declared
from buildlog.unit_table import ROWS
from buildlog.units import (
    DIMENSIONS,
    Quantity,
    System,
    as_written,
    find,
    parse,
    spellings,
    unit,
)
from tests.conftest import Call
from tests.full_car import everything
from tests.golden import answers

# A number and what stands behind it, not inside a word, a path or a quotation.
_SHOWN = re.compile(r'(?<![\w.,/:"±-])([+-]?\d[\d,]*(?:\.\d+)?) ([A-Za-z°%·/^0-9]+)(?![\w*/^])')
SPELLED = {printed(f"1 {text}").partition(" ")[2]: (text, kind) for text, kind, *_ in ROWS}
WORDS = {"in", "a", "h", "t", "g", "m", "1", "s", "lambda"}  # that are words of a sentence, too


def screens() -> Iterator[str]:
    """Every line of text that a kept call printed."""
    for group in answers.groups():
        for lines in answers.kept(group):
            if "--json" not in lines[0]:
                yield from (line[2:] for line in lines[1:] if line.startswith("| "))


@pytest.mark.parametrize(("text", "kind"), [row[:2] for row in ROWS if row[0] != "1"])
def test_every_unit_is_taken_as_it_is_printed(text: str, kind: str) -> None:
    found = parse(printed(f"12 {text}"), (kind,))
    assert (found.unit.dimension, found.unit.factor) == (kind, unit(text, kind).factor)


def test_every_quantity_on_every_kept_screen_is_taken_as_it_stands() -> None:
    taken: set[str] = set()
    for line in dict.fromkeys(screens()):
        for number, shown in _SHOWN.findall(line):
            if shown in SPELLED and shown not in WORDS:
                text, kind = SPELLED[shown]
                quantity = parse(f"{number} {shown}", (kind,))
                assert quantity.number == float(number.replace(",", "")), line
                assert quantity.unit.factor == unit(text, kind).factor, line
                taken.add(shown)
    assert {"mi", "hp", "kW", "N·m", "lb·ft", "psi", "kPa", "rpm", "°C", "km", "mph"} <= taken


@pytest.mark.parametrize("system", ["us", "metric"])
@pytest.mark.parametrize("metres", [1.0, 999e3, 144102316.0, 2.5e9])
def test_a_distance_is_taken_as_it_is_shown(system: str, metres: float) -> None:
    shown = Display(system).distance(metres)  # type: ignore[arg-type]
    again = as_written(shown)
    assert isinstance(again, Quantity)
    assert Display(system).distance(again.si) == shown  # type: ignore[arg-type]


def test_an_odometer_as_history_prints_it_is_recorded(demo_copy: Path, buildlog: Call) -> None:
    reading = re.findall(r"\d\d,\d{3} mi", buildlog("history", at=demo_copy).out)[0]
    buildlog("work", "add", "roof rack")
    done = buildlog("record", "-m", "roof rack", "--odometer", reading)
    assert done.status == 0, done.err
    with opening.ledger(demo_copy) as ledger:
        assert ledger.entries()[-1].odometer == reading.replace(",", "")  # as every reader knows it
    assert buildlog("set", f"engine.part.fitted_at_odometer={reading}").status in (0, 4)


@pytest.mark.parametrize("text", ["2026-06-06", "6 June 2026", "06 June 2026", "6 Jun 2026"])
def test_a_day_is_taken_as_documents_print_it(text: str) -> None:
    context = click.Context(click.Command("x"))
    assert DAY.convert(text, None, context) == dt.date(2026, 6, 6)
    assert day(text) == dt.date(2026, 6, 6)


def test_every_name_that_is_offered_is_known(demo: Path, buildlog: Call) -> None:
    with opening.ledger(demo) as ledger:
        book = Snapshot(ledger)
        for name, _ in known_names(ledger, "version"):
            assert book.version(name) is not None
        sessions = [name for name, _ in known_names(ledger, "session")]
    for name in sessions[:2]:
        assert buildlog("dyno", "sheet", name, "--json", at=demo).status == 0


@pytest.mark.parametrize(
    "path",  # a VIN is shown by its end alone
    sorted({*leaves(Configuration.model_validate(everything()))} - {"car.vin"}),
)
@pytest.mark.one_in(8)
def test_every_field_of_car_toml_is_taken_as_screens_print_it(path: str) -> None:
    """`show`, `diff` and the documents print a value by `value_text`; `set` takes it back."""
    values = leaves(Configuration.model_validate(everything()))
    place = re.sub(r"\[[^]]*\]", "[]", path)
    if place not in fields(Configuration):
        pytest.skip("an item by its name, which is edited in the file")
    known = fields(Configuration)[place]
    value = values[path]
    typed = toml_value(known, value_text(value, path))
    plain = [typed] if isinstance(value, tuple) and not isinstance(typed, list) else typed
    again = toml_edit.set_value(b"format = 1\n", tuple(path.split(".")), plain)
    said = tomllib.loads(again.decode())
    for name in path.split("."):
        said = said[name]
    assert f"{said}" == f"{plain_leaf(value)}" or same_value(_read(known, said), value)


def _read(known: Field, said: object) -> object:
    """What a field makes of a value of its file."""
    if known.measure is None:
        return tuple(said) if isinstance(said, list) else said
    if isinstance(said, list):
        return tuple(known.measure.read(one) for one in said)
    return known.measure.read(said)


@pytest.mark.parametrize(
    ("path", "text", "value"),
    [
        ("engine.compression_ratio", "9.5:1", 9.5), ("engine.compression_ratio", "9.5 : 1", 9.5),
        ("calibration.lambda_full_load", "0.86 lambda", 0.86),
        ("gearbox.ratios", "3.4, 2, 1.36", [3.4, 2.0, 1.36]),
    ],
)  # fmt: skip
def test_a_plain_number_is_taken_with_the_words_that_stand_beside_it(
    path: str, text: str, value: object
) -> None:
    assert toml_value(fields(Configuration)[path], text) == value


DAYS = re.compile(
    r"\b(\d{4}-\d{2}-\d{2}|\d{1,2} (?:January|February|March|April|May|June|July|August|"
    r"September|October|November|December|Jan|Feb|Mar|Apr|Jun|Jul|Aug|Sep|Oct|Nov|Dec)"
    r"(?: \d{4})?)\b"
)


def test_every_day_on_every_kept_screen_is_taken() -> None:
    told = {day for line in dict.fromkeys(screens()) for day in DAYS.findall(line)}
    assert {"2026-05-09", "9 May 2026", "9 May"} <= told
    for one in told:
        assert day_said(one, dt.date(2026, 6, 15)) is not None, one


def test_a_day_without_its_year_is_the_newest_that_has_come() -> None:
    today = dt.date(2026, 3, 1)
    assert day_said("14 Feb", today) == dt.date(2026, 2, 14)
    assert day_said("6 Jun", today) == dt.date(2025, 6, 6)
    assert day_said("yesterday", today) == dt.date(2026, 2, 28)
    assert day_said("June 6, 2026") == dt.date(2026, 6, 6)
    for two_ways in ("6/6/2026", "06.07.26", "6-7-26", ""):
        assert day_said(two_ways, today) is None


# What takes each kind of name; what is printed is that name, or enough of it.
TAKES = {
    "version": "show {}", "session": "dyno sheet {}", "plan": "plan show {}",
    "list": "checklist show {}", "sheet": "torque show {}",
    "fault": "fault close {} --remedy done", "part": "fault add x --part {}",
    "joint": "torque add x --torque '9 N*m' --retorque-of {}", "field": "show --at {}",
    "staff": "torque add x --torque '9 N*m' --by {}",
}  # fmt: skip


@pytest.mark.parametrize("kind", sorted(TAKES))
@pytest.mark.one_in(3)
def test_every_name_of_every_kind_is_taken_by_what_asks_for_it(
    kind: str, demo_copy: Path, buildlog: Call
) -> None:
    with opening.ledger(demo_copy) as ledger:
        names = [name for name, _ in known_names(ledger, kind)]
    for name in names[:: max(1, len(names) // 6)]:
        done = buildlog(*shlex.split(TAKES[kind].format(shlex.quote(name))), at=demo_copy)
        assert "names no" not in done.err, done.err
        assert "there is no" not in done.err, done.err
        assert done.status in (0, 1), done.err


def test_numbers_by_the_thousand_are_those_of_what_is_printed_so() -> None:
    for text, kind, *_ in ROWS:
        known = as_written(f"12,345 {text}")
        if known is not None:
            assert known.number == 12345.0, (text, kind)
    assert DIMENSIONS


@pytest.mark.parametrize("system", ["us", "metric"])
def test_every_spelling_is_printed_in_one(system: System) -> None:
    """Whatever the trade writes is taken and kept; a screen has one spelling of each unit."""
    said = [(one.text, one.unit.dimension, one.place, one.unit.text) for one in spellings()]
    said += [(name, row.dimension, "", text) for name, text in PRINTED.items()
             if (row := find(name))]  # fmt: skip
    for name, dimension, place, plain_name in said:
        typed = parse(f"12 {name}", (dimension,), place or None)
        assert typed.text == f"12 {name}"
        one_name = PRINTED.get(plain_name, plain_name)
        with all_in(system):
            shown = declared(typed).partition(" ")[2]
            told = in_units(f"sump: 12 {name}, too much")
        assert find(shown, (dimension,)) is not None, (name, shown)
        assert shown in {one_name, OTHER[system].get(plain_name), OTHER[system].get(one_name)}
        # A word may be a word, and a dot the end of a sentence.
        if (place or not name.isalpha()) and not name.endswith("."):
            assert re.search(rf" {re.escape(printed(shown))},", printed(told)), (name, told)
    with all_in(None):  # a file, and what is echoed of a command
        assert declared(parse("230 ft-lbs", ("torque",))) == "230 ft-lbs"
