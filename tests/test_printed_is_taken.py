"""What the program prints it also takes: quantities, dates, odometers and names of every screen."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator
from pathlib import Path

import click
import pytest

from buildlog.cli.common import DAY
from buildlog.desk.acts.dyno.dyno_conditions import day
from buildlog.desk.questions.known_names import known_names
from buildlog.desk.snapshot import opening
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.report.lines import printed
from buildlog.report.numbers import Display
from buildlog.unit_table import ROWS
from buildlog.units import DIMENSIONS, Quantity, as_written, parse, unit
from tests.conftest import Call
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


def test_numbers_by_the_thousand_are_those_of_what_is_printed_so() -> None:
    for text, kind, *_ in ROWS:
        known = as_written(f"12,345 {text}")
        if known is not None:
            assert known.number == 12345.0, (text, kind)
    assert DIMENSIONS
