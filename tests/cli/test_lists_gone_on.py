"""Lists gone on with after they were recorded, faults that their items open, values as spoken."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

import pytest

from tests.conftest import Call
from tests.histories import SESSION, put, usual
from tests.terminal import at_terminal

FIRST = ("checklist", "start", "first-start", "--date", "2026-01-08")
REST = (
    "short-run",
    "noises",
    "misfire",
    "coolant-flow",
    "charge-cooler-bleed",
    "belt",
    "test-drive",
)


@pytest.fixture
def car(tmp_path: Path) -> Path:
    with usual(tmp_path / "car") as ledger:
        return ledger.folder


def items(car: Path, name: str) -> dict[str, Any]:
    found = tomllib.loads((car / f"checks/{name}.toml").read_text("utf-8"))
    return {one["key"]: one for one in found["item"]}


def asked(buildlog: Call, *call: str) -> dict[str, Any]:
    return json.loads(buildlog(*call, "--json").out)


def test_a_recorded_list_half_done_is_gone_on_with_and_both_are_read_as_one(
    car: Path, buildlog: Call
) -> None:
    buildlog(*FIRST, at=car)
    buildlog("checklist", "tick", "fuel-pressure", "--value", "43.5")
    buildlog("checklist", "tick", "fuel-leaks", "--result", "done")
    buildlog("checklist", "tick", "noises", "--result", "fail", "--note", "a rattle")
    assert buildlog("record", "-m", "half of it").status == 0
    recorded = (car / "checks/2026-01-08-first-start.toml").read_bytes()
    step = next(one for one in asked(buildlog, "next")["next"] if "first-start" in one["step"])
    assert step["step"] == "finish the first-start list"
    assert step["command"] == "buildlog checklist tick --list first-start"
    done = buildlog("checklist", "tick", "misfire", "--result", "done", "--date", "2026-01-09")
    assert done.status == 0, done.err
    (later,) = (path for path in (car / "checks").glob("*.toml") if "2026-01-08" not in path.name)
    held = tomllib.loads(later.read_text("utf-8"))
    assert held["continues"] == "checks/2026-01-08-first-start.toml"
    assert "fuel-leaks" not in items(car, later.stem)  # done, and not asked again
    assert "noises" in items(car, later.stem)  # it failed, and is looked at again
    assert (car / "checks/2026-01-08-first-start.toml").read_bytes() == recorded
    told = asked(buildlog, "checklist", "show", "first-start")
    assert told["continues"] == "checks/2026-01-08-first-start.toml"
    by_key = {one["key"]: one["result"] for one in told["item"]}
    assert by_key["fuel-pressure"] == by_key["misfire"] == "pass"
    assert by_key["noises"] == "fail"
    for key in REST:
        assert buildlog("checklist", "tick", key, "--result", "done").status == 0
    buildlog("checklist", "tick", "trouble-codes", "--result", "done")
    buildlog("checklist", "tick", "warm-up", "--value", "88")
    assert "nothing critical left" in buildlog("checklist", "show", "first-start").out
    assert buildlog("record", "-m", "the rest").status == 0
    assert not any("first-start" in one["step"] for one in asked(buildlog, "next")["next"])
    assert buildlog("verify").status == 0


def test_a_list_of_a_car_that_was_changed_since_is_begun_anew(car: Path, buildlog: Call) -> None:
    buildlog(*FIRST, at=car)
    buildlog("checklist", "tick", "fuel-leaks", "--result", "done")
    buildlog("record", "-m", "half of it")
    buildlog("set", "engine.compression_ratio=8.8")
    step = next(one for one in asked(buildlog, "next")["next"] if "first-start" in one["step"])
    assert step["command"] == "buildlog checklist start first-start"


def test_an_item_answered_with_a_fault_opens_it_when_the_list_is_recorded(
    car: Path, buildlog: Call
) -> None:
    buildlog(*FIRST, at=car)
    done = buildlog(
        "checklist", "tick", "fuel-leaks", "--fault", "sweats at the rail", "--by", "D-7"
    )
    assert "opens a fault when recorded: sweats at the rail" in done.out
    buildlog("checklist", "tick", "noises", "--fault", "rattles")
    buildlog("checklist", "tick", "noises", "--result", "done")  # and was none after all
    assert not (car / "faults").exists()
    dry = buildlog("record", "-m", "x", "--dry-run")
    assert "opens a fault: sweats at the rail" in " ".join(dry.out.split())
    assert not (car / "faults").exists()
    assert buildlog("record", "-m", "first start").status == 0
    (fault,) = asked(buildlog, "fault", "list")["faults"]
    assert fault["symptom"] == "sweats at the rail"
    assert fault["found_in"] == "checks/2026-01-08-first-start.toml, fuel-leaks"
    assert fault["holds_up_full_load"]  # the item is critical
    assert fault["entry"] == 4
    assert "found in" in buildlog("fault", "list").out
    buildlog("work", "add", "seats")
    assert buildlog("record", "-m", "seats").status == 0
    assert len(asked(buildlog, "fault", "list")["faults"]) == 1  # once


def test_at_a_terminal_answers_are_words_and_values_as_they_are_said(car: Path) -> None:
    screen = at_terminal(
        car, ["checklist", "start", "light-load-check", "--date", "2026-01-08"],
        ["14.5 AFR", "13.2", "rich", "0.95", "does not apply no boost", "fault pings at 3000",
         "300", "300 kPa"],
    )  # fmt: skip
    found = items(car, "2026-01-08-light-load-check")
    assert (found["cruise"]["value"], found["cruise"]["result"]) == ("0.986", "pass")
    assert found["cruise"]["spoken"] == "14.5 AFR (lambda 1 = 14.7)"
    assert (found["tip-in"]["value"], found["tip-in"]["result"]) == ("0.898", "pass")
    assert found["part-load"]["value"] == "0.95"
    assert (found["first-boost"]["result"], found["first-boost"]["note"]) == (
        "not-applicable", "no boost",
    )  # fmt: skip
    assert (found["knock"]["result"], found["knock"]["fault"]) == ("fail", "pings at 3000")
    assert found["fuel-pressure"]["value"] == "300 kPa"
    assert "cruise: pass, 0.986 (14.5 AFR (lambda 1 = 14.7))" in screen
    assert "300 psi, or 300 kPa (43.5 psi)?" in screen
    assert "rich" in screen


def test_the_instrument_of_the_last_session_says_what_it_shows_for_lambda_one(
    car: Path, buildlog: Call
) -> None:
    column = '\n[[column]]\nchannel = "air_fuel_ratio"\nname = "AFR"\nunit = "1"\n'
    text = SESSION + column + "display_stoichiometric = 14.1\n"
    put("dyno/2026-03-15-again/session.toml", text)(type("Here", (), {"folder": car})())
    buildlog("checklist", "start", "light-load-check", "--date", "2026-01-08", at=car)
    done = buildlog("checklist", "tick", "cruise", "--value", "14.1")
    assert "cruise: pass, 1.000 (14.1 AFR (lambda 1 = 14.1))" in done.out
