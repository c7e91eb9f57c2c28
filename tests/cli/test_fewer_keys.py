"""From a car that comes in to its first recorded baseline: what a person types, counted."""

from __future__ import annotations

import json
import shlex
from pathlib import Path

import pytest

from tests.conftest import Call
from tests.terminal import at_terminal


def rows(number: int) -> str:
    """A pull of road speed and power, each a little unlike the others."""
    more = 1 + number / 500
    return "".join(f"{40 + 2 * i},{more * (30 + 0.9 * i - 0.004 * i * i):.1f}\n" for i in range(60))


# What is typed: the command, then an answer to each question; "" is Enter.
NEW = ("buildlog new tern", ["Marrow Tern 2.6", ""])
INTO = ("cd tern", [])
CAME = ("buildlog record", ["", "88412 mi"])
ADDED = ("buildlog dyno add ../run*.csv", [
    "", "", "4", "R1", "eddy-brake", "none", "", "", "", "",
])  # fmt: skip
DONE = ("buildlog record", ["", ""])


def typed(folder: Path, what: tuple[str, list[str]]) -> str:
    """A command with its answers, as a shell would start it."""
    words = shlex.split(what[0])[1:]
    found = [sorted(f"../{path.name}" for path in folder.parent.glob(word[3:])) if "*" in word
             else [word] for word in words]  # fmt: skip
    return at_terminal(folder, [one for some in found for one in some], what[1], prompt=":")


def keys(*what: tuple[str, list[str]]) -> int:
    """How many characters are typed, every Enter counted."""
    return sum(len(command) + 1 + sum(len(one) + 1 for one in answers) for command, answers in what)


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Three pulls from a dyno, and a shop that remembers nothing yet."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    for number in (1, 2, 3):
        (tmp_path / f"run-{number}.csv").write_text(f"Road speed (km/h),Power (kW)\n{rows(number)}")
    return tmp_path


def test_five_commands_and_150_characters_to_a_recorded_baseline(
    place: Path, buildlog: Call
) -> None:
    car = place / "tern"
    screens = [typed(place, NEW), typed(car, CAME), typed(car, ADDED), typed(car, DONE)]
    ends = ["next:", "recorded: entry 1", "next: buildlog record", "recorded: entry 2"]
    for screen, end in zip(screens, ends, strict=True):
        assert end in screen, screen  # none was refused
    assert "[as it came]" in screens[1]
    assert "[baseline]" in screens[2]
    assert "[88412 mi]" in screens[2]
    told = json.loads(buildlog("history", "--json", at=car).out)["entries"]
    assert [(one["stage"], one["kind"], one["subject"]) for one in told] == [
        (None, "found", "as it came"), ("baseline", "dyno", "baseline"),
    ]  # fmt: skip
    session = json.loads(buildlog("dyno", "sheet", "--json").out)
    assert len(session["pulls"]) == 3
    five = (NEW, INTO, CAME, ADDED, DONE)
    assert len(five) == 5
    assert keys(*five) <= 150, keys(*five)


def test_the_next_car_of_the_shop_is_not_asked_what_its_dyno_is(
    place: Path, buildlog: Call
) -> None:
    typed(place, NEW)
    typed(place / "tern", CAME)
    typed(place / "tern", ADDED)
    buildlog("new", "other", "--name", "Marrow Wren", at=place)
    buildlog("record", "-m", "as it came", "--odometer", "12000 km", at=place / "other")
    screen = typed(place / "other", (ADDED[0], ["", "", "3", *[""] * 12]))
    assert "[R1]" in screen
    assert "as before: kind eddy-brake" in screen
    assert "its kind" not in screen
    text = next((place / "other/dyno").glob("*/session.toml")).read_text("utf-8")
    assert 'kind = "eddy-brake"' in text
    assert 'standard_applied = "none"' in text
    assert 'odometer = "12000 km"' in text
    assert "gear = 3" in text
    again = typed(place / "other", (ADDED[0] + " --date 2026-01-02", ["again", *[""] * 12]))
    assert "[3]" in again  # the gear of the session before
    assert "next: buildlog record" in again


def test_a_script_is_offered_nothing_and_told_what_to_say(place: Path, buildlog: Call) -> None:
    buildlog("new", "tern", "--name", "Marrow Tern", at=place)
    done = buildlog("record", at=place / "tern")
    assert done.status == 2
    assert '-m "..."' in done.err


def test_an_offered_answer_can_be_left_out(place: Path) -> None:
    typed(place, NEW)
    typed(place / "tern", CAME)
    typed(place / "tern", (ADDED[0], ["", "-", *[""] * 12]))
    text = next((place / "tern/dyno").glob("*/session.toml")).read_text("utf-8")
    assert "odometer" not in text
