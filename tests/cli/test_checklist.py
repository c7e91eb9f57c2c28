"""Checklists by one command a line, and by a few keystrokes an item at a terminal."""

from __future__ import annotations

import json
import os
import tomllib
from pathlib import Path

import pytest

from buildlog.records.lists import SHIPPED, shipped
from tests.histories import history, put, record
from tests.terminal import at_terminal

CAR = """\
format = 1

[car]
name = "Marrow Tern 2.6"

[calibration]
id = "B"
"""
OWN = """\
format = 1
name = "before-rain"
title = "Before it rains"
before = "hand-back"
cautions = ["Wet floor."]

[[item]]
key = "wipers"
text = "Wipers"
critical = true

[[item]]
key = "washer"
text = "Washer fluid"
value = true
unit = "L"
low = "1 L"
"""


@pytest.fixture
def car(tmp_path: Path) -> Path:
    with history(
        tmp_path / "car",
        [put("car.toml", CAR), record("intake", kind="found", odometer="88000 mi")],
    ) as ledger:
        return ledger.folder


def sheet(folder: Path, name: str) -> dict:
    (path,) = (folder / "checks").glob(f"*-{name}.toml")
    return tomllib.loads(path.read_text("utf-8"))


def item(folder: Path, name: str, key: str) -> dict:
    return next(one for one in sheet(folder, name)["item"] if one["key"] == key)


def test_a_list_by_one_command_a_line(car: Path, buildlog):
    started = buildlog("checklist", "start", "first-start", "--date", "2026-04-27", at=car)
    assert "carbon monoxide" in started.out  # cautions come with the list
    assert "two people" in started.out
    assert started.out.splitlines()[-1].startswith("next: buildlog checklist tick fuel-pressure")
    assert sheet(car, "first-start")["odometer"] == "88000 mi"
    assert sheet(car, "first-start")["calibration"] == "B"
    for key in [one["key"] for one in sheet(car, "first-start")["item"]]:
        done = buildlog("checklist", "tick", key, "--result", "pass", "--by", "D-07")
        assert done.status == 0
    assert done.out.splitlines()[-1].startswith("next: buildlog record -m")
    assert item(car, "first-start", "belt")["by"] == "D-07"


def test_a_value_decides_by_its_limits(car: Path, buildlog):
    buildlog("checklist", "start", "intake", at=car)
    assert "pass" in buildlog("checklist", "tick", "charging-voltage", "--value", "14.1 V").out
    assert "fail" in buildlog("checklist", "tick", "charging-voltage", "--value", "12.4").out
    assert item(car, "intake", "charging-voltage")["value"] == "12.4 V"  # the item's own unit
    said = buildlog("checklist", "tick", "charging-voltage", "--value", "12.4", "--result", "pass")
    assert "caution: outside 13.5 V to 14.8 V" in said.out
    values = [word for text in ("172", "168", "171") for word in ("--value", text)]
    buildlog("checklist", "tick", "compression", *values)
    assert item(car, "intake", "compression")["values"] == ["172 psi", "168 psi", "171 psi"]
    assert "1 caution" in buildlog("check").out or "cautions" in buildlog("check").out


def test_trouble_codes_are_read_by_their_structure(car: Path, buildlog):
    buildlog("checklist", "start", "first-start", at=car)
    bad = buildlog("checklist", "tick", "trouble-codes", "--code", "P9")
    assert bad.status == 4
    good = buildlog("checklist", "tick", "trouble-codes", "--code", "p0299", "--code", "U0158")
    assert "fail, P0299 U0158" in good.out
    assert item(car, "first-start", "trouble-codes")["codes"] == ["P0299", "U0158"]


@pytest.mark.parametrize(
    ("arguments", "status", "hint"),
    [
        (["start", "frst-start"], 3, "first-start"),
        (["tick", "belt", "--result", "pass"], 3, "checklist start"),
        (["show", "nothing"], 3, "intake"),
    ],
)
def test_a_wrong_name_lists_the_nearest(
    car: Path, buildlog, arguments: list[str], status: int, hint: str
):
    outcome = buildlog("checklist", *arguments, at=car)
    assert outcome.status == status
    assert hint in outcome.err


def test_an_item_that_is_not_on_the_list_and_a_result_nobody_gave(car: Path, buildlog):
    buildlog("checklist", "start", "first-start", at=car)
    assert "did you mean fuel-leaks" in buildlog("checklist", "tick", "fuel-leak").err
    assert "--result" in buildlog("checklist", "tick", "belt").err
    assert buildlog("checklist", "tick").status == 2  # nobody is there to ask
    assert buildlog("checklist", "start", "first-start").status == 4  # begun and not finished


def test_a_value_in_another_unit_or_with_a_decimal_comma_is_refused(car: Path, buildlog):
    buildlog("checklist", "start", "intake", at=car)
    for value, said in (
        ("12.9 furlong", "measures length, not pressure"),
        ("12.9 flurb", "is not a unit of pressure"),
        ("12.9 V", "measures"),
        ("12,9 bar", "decimal point"),
        ("172,168 psi", "comma"),
    ):
        outcome = buildlog("checklist", "tick", "compression", "--value", value)
        assert outcome.status == 4, value
        assert said in outcome.err
    assert item(car, "intake", "compression")["result"] == "not-done"


@pytest.mark.parametrize("line", ["172 168 171 psi", "172 psi, 168 psi, 171 psi", "172 168, 171"])
def test_the_cylinders_may_stand_in_one_line(car: Path, buildlog, line: str):
    buildlog("checklist", "start", "intake", at=car)
    assert buildlog("checklist", "tick", "compression", "--value", line).status == 0
    assert item(car, "intake", "compression")["values"] == ["172 psi", "168 psi", "171 psi"]


def test_an_item_finds_its_list_where_two_are_begun(car: Path, buildlog):
    buildlog("checklist", "start", "intake", at=car)
    buildlog("checklist", "start", "hand-back")
    assert buildlog("checklist", "tick", "compression", "--value", "172 168 psi").status == 0
    assert item(car, "intake", "compression")["result"] == "pass"
    assert "--list" in buildlog("checklist", "tick").err  # which of the two cannot be known


def test_the_last_line_asks_for_the_value_and_show_for_what_is_left(car: Path, buildlog):
    started = buildlog("checklist", "start", "intake", at=car)
    assert started.out.splitlines()[-1].endswith('tick compression --value "... psi"')
    pasted = buildlog("checklist", "tick", "compression", "--value", "... psi")
    assert pasted.status == 2
    shown = buildlog("checklist", "show").out
    assert "Leakage of each cylinder at top dead center  (at most 20 percent)" in shown
    listed = buildlog("checklist", "list").out.splitlines()[-1]
    assert listed == "next: buildlog checklist start first-start"
    assert buildlog(*listed.removeprefix("next: buildlog ").split()).status == 0


def test_a_shop_writes_its_own_list(car: Path, buildlog):
    (car / "lists").mkdir()
    (car / "lists" / "before-rain.toml").write_text(OWN, "utf-8")
    assert "before-rain" in buildlog("checklist", "list", at=car).out
    assert "Wet floor." in buildlog("checklist", "start", "before-rain").out
    assert "fail" in buildlog("checklist", "tick", "washer", "--value", "0.5").out
    blocked = json.loads(buildlog("next", "--json").out)["blocked"]
    assert any("before-rain" in one["why"] for one in blocked)
    buildlog("checklist", "tick", "wipers", "--result", "pass")
    blocked = json.loads(buildlog("next", "--json").out)["blocked"]
    assert not any("before-rain" in one["why"] for one in blocked)


def test_what_is_recorded_is_not_ticked_again(demo_copy: Path, buildlog):
    outcome = buildlog("checklist", "tick", "told", "--result", "fail", at=demo_copy)
    assert outcome.status == 3
    assert "no list is begun" in outcome.err


def test_show_and_list_for_programs(demo: Path, buildlog):
    shown = json.loads(buildlog("checklist", "show", "intake", "--json", at=demo).out)
    compression = next(one for one in shown["item"] if one["key"] == "compression")
    assert len(compression["values"]) == 6
    assert shown["unfinished"] == []
    assert shown["cautions"]
    lists = json.loads(buildlog("checklist", "list", "--json").out)["lists"]
    assert [one["name"] for one in lists] == list(SHIPPED)
    assert {one["name"]: one["done"] for one in lists}["before-dyno"] == 0


@pytest.mark.parametrize("name", SHIPPED)
def test_where_people_can_get_hurt_the_list_says_so(name: str):
    assert shipped(name).cautions


def test_the_shipped_lists_hold_what_the_trade_asks_for():
    """Common practice, no source."""
    keys = {name: {item.key for item in shipped(name).item} for name in SHIPPED}
    assert {"compression", "leakage", "oil-pressure", "trouble-codes", "charging-voltage",
            "fuel-pressure", "tyre-age"} <= keys["intake"]  # fmt: skip
    assert {"fuel-pressure", "fuel-leaks", "short-run", "noises", "misfire", "trouble-codes",
            "warm-up", "coolant-flow", "charge-cooler-bleed", "belt", "test-drive",
            } <= keys["first-start"]  # fmt: skip
    assert {"straps", "fan", "extraction", "tyres", "fluids"} <= keys["before-dyno"]
    order = [item.key for item in shipped("first-start").item]
    assert order.index("short-run") < order.index("trouble-codes") < order.index("warm-up")


def test_every_shipped_list_can_be_carried_out_whole(car: Path, buildlog):
    for name in SHIPPED:
        buildlog("checklist", "start", name, at=car)
        for one in sheet(car, name)["item"]:
            line = ("checklist", "tick", one["key"], "--result", "pass", "--list", name)
            assert buildlog(*line).status == 0
    done = json.loads(buildlog("checklist", "list", "--json").out)["lists"]
    assert all(one["done"] == one["items"] and not one["unfinished"] for one in done)


@pytest.mark.skipif(os.name == "nt", reason="pseudo-terminals are a thing of POSIX systems")
def test_at_a_terminal_an_item_takes_about_ten_keystrokes(car: Path):
    """Typed as a person would: a value, p, f with a note, Enter for later, q."""
    typed = ["43.5", "p", "f rattle", "", "q"]
    screen = at_terminal(car, ["checklist", "start", "first-start", "--by", "D-07"], typed)
    assert "fuel-pressure: pass, 43.5 psi" in screen
    assert item(car, "first-start", "fuel-leaks")["result"] == "pass"
    assert item(car, "first-start", "short-run")["note"] == "rattle"
    assert item(car, "first-start", "noises")["result"] == "not-done"
    assert max(len(line) + 1 for line in typed if line != "f rattle") <= 10


def test_a_gauge_pressure_is_taken_as_it_is_said(car: Path, buildlog):
    """Whatever a list asks of a pressure is read from a gauge; an absolute one is refused."""
    assert buildlog("checklist", "start", "intake", at=car).status == 0
    done = buildlog("checklist", "tick", "oil-pressure", "--value", "55 psig", at=car)
    assert done.status == 0, done.err
    assert "oil-pressure: pass, 55 psi (55 psig)" in done.out
    wrong = buildlog("checklist", "tick", "oil-pressure", "--value", "70 psia", at=car)
    assert wrong.status == 4
    assert "absolute pressure" in wrong.err
    kept = item(car, "intake", "oil-pressure")
    assert (kept["value"], kept["spoken"]) == ("55 psi", "55 psig")


def test_an_item_of_the_recorded_part_says_so(car: Path, buildlog):
    """No such item, it would say, of one that everybody can see in the list."""
    assert buildlog("checklist", "start", "light-load-check", at=car).status == 0
    assert buildlog("checklist", "tick", "cruise", "--value", "0.98 lambda").status == 0
    assert buildlog("record", "-m", "half", "--odometer", "unknown").status == 0
    assert buildlog("checklist", "tick", "knock", "--result", "pass").status == 0
    told = buildlog("checklist", "tick", "cruise", "--value", "0.99")
    assert told.status == 4
    assert "cruise was answered in the part of this list that is recorded" in told.err
    again = buildlog("checklist", "start", "light-load-check")
    (held,) = (car / "checks").glob("*-2.toml")
    assert f"buildlog discard checks/{held.name}" in again.err
    assert buildlog("discard", f"checks/{held.name}").status == 0
    assert buildlog("checklist", "start", "light-load-check").status == 0
