"""A maker's sheet of joints: read in, gone through stage by stage, gone on with, done again."""

from __future__ import annotations

import io
import json
import threading
import tomllib
from pathlib import Path
from typing import Any

import pytest

from buildlog.desk.acts.torque_sheets import SheetSaid, tighten, write_sheet
from buildlog.desk.snapshot import opening
from buildlog.errors import BuildlogError
from tests.conftest import Call
from tests.histories import usual
from tests.terminal import at_terminal

HEAD = """\
Engine manual, table 4
Joint;Qty;Thread;Class;Stage 1 [Nm];Stage 2 [Nm];Angle;Torque;Sequence;Tool;Remark
Cylinder head bolts;4;M11x1.5;10.9;30;60;90°;;from the centre;W-2;oil the threads
TOP END;;;;;;;;;;
Main caps;2;M10x1.5;10.9;;;;40-45 Nm;;W-2;
Header flange;3;M8x1.25;8.8;;;;22 ± 2 Nm;;W-1;
Sump;16;M6x1.0;8.8;;;;8,5 Nm;;W-1;
"""
SHEET = "2026-06-01-head.sheet"


@pytest.fixture
def car(tmp_path: Path) -> Path:
    (tmp_path / "head.csv").write_text(HEAD, "utf-8")
    with usual(tmp_path / "car") as ledger:
        return ledger.folder


@pytest.fixture
def begun(car: Path, buildlog: Call) -> Path:
    assert buildlog("torque", "sheet", "../head.csv", "--date", "2026-06-01", at=car).status == 0
    return car


def held(car: Path, name: str = SHEET) -> dict[str, Any]:
    return tomllib.loads((car / f"torque/{name}.toml").read_text("utf-8"))


def shown(buildlog: Call, *name: str) -> dict[str, Any]:
    return json.loads(buildlog("torque", "show", *name, "--json").out)


def typed(monkeypatch: pytest.MonkeyPatch, *lines: str) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in lines)))


def test_a_sheet_is_read_and_says_what_was_taken_as_what(car: Path, buildlog: Call) -> None:
    done = buildlog("torque", "sheet", "../head.csv", "--date", "2026-06-01", "--source",
                    "the maker", at=car)  # fmt: skip
    assert done.status == 0, done.err
    assert "Engine manual, table 4: 4 joints, 25 fasteners" in done.out
    assert 'stage 2 [Nm] from "Stage 2 [Nm]"' in done.out
    assert "line 4 gives no torque and is left out: TOP END" in done.out
    assert "next: buildlog torque do 2026-06-01-head" in done.out
    sheet = held(car)
    assert sheet["odometer"] == "88500 mi"
    head, main, flange, sump = sheet["fastened"]
    assert (head["stages"], head["torque"], head["angle"]) == (["30 N*m"], "60 N*m", "90 deg")
    assert head["count"] == 4
    assert head["note"] == "oil the threads"
    assert (main["low"], main["high"]) == ("40 N*m", "45 N*m")
    assert (flange["low"], flange["high"]) == ("20 N*m", "24 N*m")
    assert (sump["torque"], sump["count"], sump["tool"]) == ("8.5 N*m", 16, "W-1")
    assert "torque/" not in buildlog("check").out  # nothing is odd about it


def test_lines_of_the_input_answer_stage_by_stage_and_each_is_saved(
    begun: Path, buildlog: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    typed(monkeypatch, "done", "44 lb*ft read", "90", "", "1=21 2=30 read", "q")
    done = buildlog("torque", "do", "head", "--by", "D-07", at=begun)
    assert done.status == 0, done.err
    assert (
        "Header flange, stage 1: 30 N·m is above what is asked for (20 N·m to 24 N·m)"
        in " ".join(done.out.split())
    )
    first, second, third = held(begun)["fastened"][0]["done"]
    assert first["value"] == "30 N*m"
    assert (first["how"], first["who"]) == ("tool setting", "D-07")
    assert (second["value"], second["how"]) == ("44 lb*ft", "reading")  # kept as typed
    assert third["value"] == "90 deg"
    told = shown(buildlog)
    assert told["finished"] == 1
    by_name = {one["name"]: one for one in told["joints"]}
    assert by_name["Main caps"]["left"] == [{"stage": 1, "fasteners": [1, 2]}]
    assert by_name["Header flange"]["left"] == [{"stage": 1, "fasteners": [3]}]
    assert by_name["Cylinder head bolts"]["done"][1]["value"] == pytest.approx(59.656, abs=1e-3)
    assert {one["code"] for one in told["findings"]} >= {"torque-unfinished"}


def test_a_line_that_cannot_be_taken_ends_it_and_keeps_what_was_saved(
    begun: Path, buildlog: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    typed(monkeypatch, "done", "60 psi", "done")
    done = buildlog("torque", "do", at=begun)
    assert done.status == 4
    assert "line 2 of the input, Cylinder head bolts" in done.err
    assert [one["stage"] for one in held(begun)["fastened"][0]["done"]] == [1]


def test_at_a_terminal_it_asks_and_goes_on_where_it_was_left(begun: Path) -> None:
    screen = at_terminal(begun, ["torque", "do", "head"], ["done", "60 psi", "60 read", "q"])
    assert "stage 1 of 3: 30 N·m" in screen
    assert "measures pressure, not torque" in screen
    screen = at_terminal(begun, ["torque", "do"], ["done", "done", "42", "22", "done", "q"])
    assert "turn on by 90 deg" in screen
    assert "Main caps asks for 40 N·m to 45 N·m: which value was it?" in screen
    assert "4 joints tightened" in screen


@pytest.mark.parametrize(
    ("arguments", "status", "hint"),
    [
        (["--joint", "sump"], 0, ""),
        (["--joint", "4", "--stage", "1", "--value", "8.5"], 0, ""),
        (["--joint", "cyl", "--stage", "2", "--value", "60 N*m", "--number", "3"], 0, ""),
        (["--joint", "main"], 4, '"40 N*m"'),
        (["--joint", "main", "--value", "tight"], 4, "N*m"),
        (["--joint", "cyl", "--stage", "4"], 3, "1: 30 N*m"),
        (["--joint", "sump", "--number", "17"], 4, "1 to 16"),
        (["--joint", "nothing"], 3, "Sump"),
        (["--stage", "2"], 2, "--joint"),
        (["nothing"], 3, "2026-06-01-head"),
        (["--joint", "sump", "--take-back"], 3, "corrected"),
        (["--again"], 2, "NAME"),
    ],
)  # fmt: skip
def test_one_stage_by_itself(
    begun: Path, buildlog: Call, arguments: list[str], status: int, hint: str
) -> None:
    before = (begun / f"torque/{SHEET}.toml").read_bytes()
    done = buildlog("torque", "do", *arguments, at=begun)
    assert done.status == status, done.err
    assert hint in done.err
    assert (before == (begun / f"torque/{SHEET}.toml").read_bytes()) == (status != 0)


def test_the_sheet_tells_a_last_torque_that_is_wrong_whatever_was_done_after_it(
    begun: Path, buildlog: Call
) -> None:
    """300 N*m of 60, then the angle: on the sheet, in the list of joints once, with one spec."""
    for stage, value in (("1", "30 N*m"), ("2", "300 N*m"), ("3", "90 deg")):
        buildlog("torque", "do", "--joint", "cylinder", "--stage", stage, "--value", value,
                 at=begun)  # fmt: skip
    told = " ".join(buildlog("torque", "show", "--units", "metric", at=begun).out.split())
    assert "Cylinder head bolts, stage 2: 300 N·m is above what is asked for (60 N·m)" in told
    listed = " ".join(buildlog("torque", "list", "--units", "metric", at=begun).out.split())
    assert listed.count("300 N·m is above") == 1
    assert "(60 N·m)" in listed


def test_a_stage_is_done_anew_and_taken_back(begun: Path, buildlog: Call) -> None:
    for value in ("8 N*m", "8.5 N*m"):
        buildlog("torque", "do", "--joint", "sump", "--stage", "1", "--value", value, at=begun)
    assert [one["value"] for one in held(begun)["fastened"][3]["done"]] == ["8.5 N*m"]
    assert "taken back" in buildlog("torque", "do", "--joint", "sump", "--take-back").out
    assert "done" not in held(begun)["fastened"][3]


def test_a_recorded_sheet_is_gone_on_with_and_both_are_read_as_one(
    begun: Path, buildlog: Call
) -> None:
    for stage in ("1", "2"):
        buildlog("torque", "do", "--joint", "cyl", "--stage", stage, at=begun)
    buildlog("torque", "do", "--joint", "sump")
    assert buildlog("record", "-m", "half of it").status == 0
    recorded = (begun / f"torque/{SHEET}.toml").read_bytes()
    steps = [one["step"] for one in json.loads(buildlog("next", "--json").out)["next"]]
    assert "tighten: Engine manual, table 4" in steps
    done = json.loads(buildlog("torque", "do", "head", "--joint", "cyl", "--json").out)
    assert done["continues"] == SHEET
    assert done["stage"] == 3
    assert (begun / f"torque/{SHEET}.toml").read_bytes() == recorded
    assert [one["name"] for one in done["joints"] if not one["left"]] == [
        "Cylinder head bolts", "Sump",
    ]  # fmt: skip
    joints = json.loads(buildlog("torque", "list", "--json").out)["joints"]
    (head,) = (one for one in joints if one["joint"] == "Cylinder head bolts")
    assert head["name"].endswith(".sheet/Cylinder head bolts")
    assert not head["name"].startswith(SHEET)
    assert [one["torque_nm"] for one in head["fastener"]] == [60.0] * 4
    for joint, value in (("main", "42"), ("header", "22")):
        buildlog("torque", "do", "--joint", joint, "--value", value)
    assert buildlog("record", "-m", "the rest").status == 0
    assert buildlog("verify").status == 0
    steps = [one["step"] for one in json.loads(buildlog("next", "--json").out)["next"]]
    assert not any(step.startswith("tighten") for step in steps)
    again = buildlog("torque", "do", "head", "--joint", "cyl", "--stage", "1")
    assert again.status == 4
    assert "--again" in again.err


def test_a_recheck_after_heat_cycles_settles_what_was_due(
    car: Path, buildlog: Call, tmp_path: Path
) -> None:
    text = "joint,count,torque,recheck after\nheader flange,3,22 N*m,100 mi\n"
    (tmp_path / "flange.csv").write_text(text)
    buildlog("torque", "sheet", "../flange.csv", "--odometer", "88100 mi", "--date", "2026-01-08",
             at=car)  # fmt: skip
    buildlog("torque", "do", "--joint", "1", "--date", "2026-01-08")
    due = next(one for one in json.loads(buildlog("next", "--json").out)["next"]
               if one["step"] == "tighten again: header flange")  # fmt: skip
    assert due["command"] == "buildlog torque do 2026-01-08-flange --again"
    assert buildlog(*due["command"].split()[1:], "--joint", "1", "--how", "reading").status == 0
    steps = [one["step"] for one in json.loads(buildlog("next", "--json").out)["next"]]
    assert "tighten again: header flange" not in steps
    assert shown(buildlog)["retorque_of"] == "2026-01-08-flange.sheet"


def test_a_sheet_may_be_written_as_toml(car: Path, buildlog: Call, tmp_path: Path) -> None:
    (tmp_path / "own.toml").write_text(
        'title = "gearbox"\n[[fastened]]\nname = "cover"\ncount = 8\ntorque = "25 N*m"\n'
    )
    assert "gearbox: 1 joint, 8 fasteners" in buildlog("torque", "sheet", "../own.toml", at=car).out
    (tmp_path / "own.toml").write_text('[[joint]]\nname = "cover"\ncolour = "red"\n')
    wrong = buildlog("torque", "sheet", "../own.toml", at=car)
    assert wrong.status == 4
    assert '"colour" is no field of a joint' in wrong.err
    for name, status in (("none.csv", 3), ("", 4)):
        assert buildlog("torque", "sheet", f"../{name}", at=car).status == status


def test_twelve_people_at_one_sheet_lose_nothing(car: Path) -> None:
    joints = [{"name": f"joint {n}", "count": 2, "torque": "20 N*m"} for n in range(12)]
    with opening.ledger(car) as ledger:
        name = write_sheet(ledger, joints, "many", SheetSaid()).state.name
    failed: list[BuildlogError] = []

    def work(number: int) -> None:
        try:
            with opening.ledger(car) as ledger:
                tighten(ledger, name, f"joint {number}")
        except BuildlogError as error:
            failed.append(error)

    people = [threading.Thread(target=work, args=(n,)) for n in range(12)]
    for one in people:
        one.start()
    for one in people:
        one.join()
    assert failed == []
    assert all(len(one["done"]) == 1 for one in held(car, name)["fastened"])


def test_a_sheet_with_joints_left_holds_up_the_pull_and_says_what_is_left(
    begun: Path, buildlog: Call
) -> None:
    def told() -> dict[str, Any]:
        return json.loads(buildlog("next", "--json").out)

    def held_up() -> set[str]:
        return {one["step"] for one in told()["blocked"] if one["gate"] == "torque-unfinished"}

    assert held_up() == {"a full-load pull", "handing the car back"}
    assert "ready for the dyno" not in {one["step"] for one in told()["next"]}
    why = next(one["why"] for one in told()["blocked"] if one["gate"] == "torque-unfinished")
    assert "4 of 4 joints not finished: Cylinder head bolts (stage 1 of 3)" in why
    for joint, values in (
        ("1", (None, None, None)),
        ("2", ("42",)),
        ("3", ("22",)),
        ("4", (None,)),
    ):
        for value in values:
            line = ("--joint", joint, *(("--value", value) if value else ()))
            assert buildlog("torque", "do", "head", *line).status == 0
    assert held_up() == set()


def test_joints_come_again_after_the_heat_cycles_that_the_sheet_asks_for(
    car: Path, buildlog: Call, tmp_path: Path
) -> None:
    text = ("joint,count,torque,recheck after\nheader flange,3,22 N*m,100 mi or 2 heat cycles\n"
            "bracket,2,40 N*m,\n")  # fmt: skip
    (tmp_path / "flange.csv").write_text(text)
    buildlog("torque", "sheet", "../flange.csv", "--date", "2026-05-08", at=car)
    for joint in ("1", "2"):
        buildlog("torque", "do", "flange", "--joint", joint, "--date", "2026-05-08")

    def again() -> list[str]:
        steps = json.loads(buildlog("next", "--json").out)["next"]
        return [f"{one['step']}: {one['why']}" for one in steps if "tighten again" in one["step"]]

    def listed() -> dict[str, Any]:
        return json.loads(buildlog("torque", "list", "--json").out)["joints"][0]

    (said,) = again()
    assert "to be tightened again after 2 heat cycles, and none is counted" in said
    assert listed()["retorque"] == "unknown"
    buildlog("due", "reading", "--heat-cycles", "1", "--date", "2026-05-09")
    assert again() == []
    assert (listed()["retorque"], listed()["retorque_left_heat_cycles"]) == ("later", 1)
    assert "or 1 heat cycle" in " ".join(buildlog("torque", "list").out.split())
    buildlog("due", "reading", "--heat-cycles", "2", "--date", "2026-05-10")
    assert "due to be tightened again after 3 of 2 heat cycles" in again()[0]
    buildlog("record", "-m", "flange", "--date", "2026-05-10")
    due = json.loads(buildlog("shop", "list", "--due", "--json", str(car)).out)["due"]
    assert ("re-torque", "header flange") in {(one["due"], one["what"]) for one in due}
    assert buildlog("torque", "do", "flange", "--again", "--joint", "flange").status == 0
    assert again() == []
    assert [one["name"] for one in shown(buildlog)["joints"]] == ["header flange"]
