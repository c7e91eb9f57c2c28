"""`next` on the demo and on small ledgers: the first line answers, the last line runs."""

from __future__ import annotations

import json
import shlex
from pathlib import Path

import pytest

from tests.histories import history, put, record

CAR = """\
format = 1

[car]
name = "Marrow Tern 2.6"

[induction]
kind = "naturally-aspirated"

[fuel.injectors]
flow = "310 cc/min"

[calibration]
id = "A"
"""
TURBO = CAR.replace("naturally-aspirated", "turbocharger").replace("310", "550")
NEW = TURBO.replace('"A"', '"B"')


@pytest.fixture
def turbo(tmp_path: Path) -> Path:
    """A turbocharger fitted under the calibration of the engine without one."""
    with history(
        tmp_path / "car",
        [
            put("car.toml", CAR),
            record("intake", kind="found", odometer="88000 mi"),
            put("car.toml", TURBO),
            record("turbocharger", odometer="88500 mi"),
        ],
    ) as ledger:
        return ledger.folder


@pytest.mark.parametrize("command", ["next", "check"])
def test_the_mismatch_is_the_first_line_until_it_is_corrected(turbo: Path, buildlog, command: str):
    first = buildlog(command, at=turbo).out.splitlines()[0]
    assert first.startswith("calibration A does not belong to this hardware")
    (turbo / "car.toml").write_text(NEW, "utf-8")
    assert "does not belong" not in buildlog(command, at=turbo).out


def test_the_steps_and_what_is_held_up(turbo: Path, buildlog):
    answer = json.loads(buildlog("next", "--json", at=turbo).out)
    assert answer["format"] == "buildlog/next/1"
    assert answer["next"][0]["command"] == "buildlog set calibration.id=..."
    assert {one["gate"] for one in answer["blocked"]} == {
        "first-start", "calibration-mismatch", "light-load-check", "hand-back",
    }  # fmt: skip
    assert all(
        set(one) == {"step", "why", "who", "gate", "distance_km"} for one in answer["blocked"]
    )
    assert answer["never_measured"] is True


def test_nothing_recorded_yet_and_something_not_yet_recorded(tmp_path: Path, buildlog):
    with history(tmp_path / "car", [put("car.toml", CAR)]) as ledger:
        folder = ledger.folder
    assert "record the car as it came" in buildlog("next", at=folder).out.splitlines()[0]
    with history(tmp_path / "other", [put("car.toml", CAR), record("in", kind="found")]) as ledger:
        folder = ledger.folder
    (folder / "car.toml").write_text(CAR.replace("310", "330"), "utf-8")
    assert "1 field of car.toml" in buildlog("next", at=folder).out


def test_a_broken_file_is_one_sentence_with_its_place(turbo: Path, buildlog):
    (turbo / "car.toml").write_text(CAR.replace('"310 cc/min"', '"310"'), "utf-8")
    outcome = buildlog("next", at=turbo)
    assert outcome.status == 4
    assert "car.toml, line 10, column 8" in outcome.err
    assert "Traceback" not in outcome.err


def test_on_the_demo_nothing_holds_up_a_pull_and_the_last_line_runs(demo: Path, buildlog):
    outcome = buildlog("next", at=demo)
    assert outcome.status == 0
    *_, last = outcome.out.splitlines()
    words = shlex.split(last.removeprefix("next: "))
    assert words[0] == "buildlog"
    assert buildlog(*words[1:], "--help", at=demo).status == 0
    assert "pull" not in {
        one["step"] for one in json.loads(buildlog("next", "--json").out)["blocked"]
    }


def test_lines_fit_a_terminal(demo: Path, turbo: Path, buildlog):
    for folder in (demo, turbo):
        for line in buildlog("next", "--full", at=folder).out.splitlines():
            assert len(line) <= 80, line


def test_strict_ends_with_one_while_there_is_a_caution(turbo: Path, buildlog):
    assert buildlog("next", at=turbo).status == 0
    assert buildlog("next", "--strict", at=turbo).status == 1
