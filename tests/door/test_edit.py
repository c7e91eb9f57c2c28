"""An edit: the same acts, checks, files and entries as the command line, or nothing at all."""

from __future__ import annotations

import datetime as dt
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import buildlog
from tests.conftest import Call
from tests.store.test_draft import state

DAY = dt.date(2026, 6, 12)
ON = ["--date", "2026-06-12"]
BY = ["--by", "D-07"]

# Every act there is, and the command that does the same.
ACTS: dict[str, tuple[Callable[[Any], object], list[list[str]]]] = {
    "set": (
        lambda work: (work.set("exhaust.pipe_diameter", "63.5 mm"), work.set("car.year", 1995)),
        [["set", "exhaust.pipe_diameter=63.5 mm", "car.year=1995"]],
    ),
    "remove": (
        lambda work: work.remove("exhaust.sound_level"), [["set", "exhaust.sound_level="]],
    ),
    "work": (
        lambda work: work.work("clock fitted", "left of the wheel"),
        [["work", "add", "clock fitted", "--note", "left of the wheel"]],
    ),
    "fault": (
        lambda work: work.fault("hiss under load", part="induction.charge_cooler",
                                codes=["p0299"], date=DAY),
        [["fault", "add", "hiss under load", "--part", "induction.charge_cooler", "--code",
          "p0299", *BY, *ON]],
    ),
    "fault and close": (
        lambda work: (work.fault("hiss", date=DAY), work.close_fault(remedy="clamp", date=DAY)),
        [["fault", "add", "hiss", *BY, *ON],
         ["fault", "close", "--remedy", "clamp", *BY, *ON]],
    ),
    "joint": (
        lambda work: work.joint("header flange", {"1": "25 N*m", "2": "26 N*m"},
                                buildlog.Tightening(thread="M8x1.25", grade="8.8"), date=DAY),
        [["torque", "add", "header flange", "1=25 N*m", "2=26 N*m", "--thread", "M8x1.25",
          "--grade", "8.8", *BY, *ON]],
    ),
    "list": (
        lambda work: (work.begin_list("before-dyno", date=DAY),
                      work.tick("straps", "pass", date=DAY)),
        [["checklist", "start", "before-dyno", *ON],
         ["checklist", "tick", "straps", "--result", "pass", *BY, *ON]],
    ),
}  # fmt: skip


def tree(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and ".git" not in path.parts
    }


@pytest.mark.parametrize("act", ACTS)
@pytest.mark.one_in(3)
def test_an_act_writes_what_the_command_writes(
    act: str, demo_copy: Path, tmp_path: Path, buildlog: Call
) -> None:
    import shutil

    import buildlog as library

    twin = Path(shutil.copytree(demo_copy, tmp_path / "twin"))
    do, commands = ACTS[act]
    for command in commands:
        done = buildlog(*command, "--ledger", twin)
        assert done.status == 0, done.err
    with library.open(demo_copy) as car, car.edit(by="D-07") as work:
        before = tree(demo_copy)
        do(work)
        assert tree(demo_copy) == before, "nothing is written before record()"
        preview = work.preview("as it was done", odometer="89700 mi")
        assert tree(demo_copy) == before
        entry = work.record("as it was done", odometer="89700 mi")
    done = buildlog("record", "-m", "as it was done", "--odometer", "89700 mi", "--done-by",
                    "D-07", "--ledger", twin)  # fmt: skip
    assert done.status == 0, done.err
    assert tree(demo_copy) == tree(twin)
    with library.open(demo_copy) as car, library.open(twin) as other:
        mine, theirs = car.history[-1], other.history[-1]
        assert mine.number == entry.number == 17
        assert mine._named.tree == theirs._named.tree
        assert (mine.kind, mine.done_by, mine.subject) == (
            theirs.kind, theirs.done_by, theirs.subject,
        )  # fmt: skip
        assert mine.kind == preview.kind
        assert car.verify().verdict == "consistent"


def test_every_act_of_an_edit_is_compared_here() -> None:
    from buildlog.desk.edit import Edit

    acts = {n for n in vars(Edit) if not n.startswith("_")}
    others = {"edited", "preview", "record", "abandon", "attach", "session", "log"}
    others |= {"torque_sheet", "tighten"}  # in tests/cli/test_torque_sheet.py, of one table
    named = {"set", "remove", "work", "fault", "close_fault", "joint", "begin_list", "tick"}
    assert acts - others == named


def test_a_session_is_added_as_the_command_adds_it(
    demo_copy: Path, tmp_path: Path, buildlog: Call
) -> None:
    import shutil

    import buildlog as library

    raw = tmp_path / "again.csv"
    of = demo_copy / "dyno/2026-06-06-stage-2-recheck/run-1.csv"
    raw.write_bytes(b"".join(of.read_bytes().splitlines(keepends=True)[:-3]))
    twin = Path(shutil.copytree(demo_copy, tmp_path / "twin"))
    done = buildlog(
        "dyno", "add", raw, "--session", "again", "--standard-applied", "none", "--gear", "4",
        "--odometer", "89900 mi", "--date", "2026-06-09", "--ledger", twin,
    )  # fmt: skip
    assert done.status == 0, done.err
    said = {"standard_applied": "none", "gear": "4", "odometer": "89900 mi", "date": "2026-06-09"}
    with library.open(demo_copy) as car, car.edit(by="D-07") as work:
        before = tree(demo_copy)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # what there is to say of one pull alone
            path = work.session([raw], "again", library.SessionSaid(said))
        assert path == "dyno/2026-06-09-again/session.toml"
        assert tree(demo_copy) == before
        work.record("again")
    assert tree(demo_copy) == tree(twin)


def test_a_photo_is_copied_as_attach_copies_it(demo_copy: Path, tmp_path: Path) -> None:
    file = tmp_path / "note.txt"
    file.write_text("as found")
    with buildlog.open(demo_copy) as car, car.edit(by="D-07") as work:
        assert work.attach(file, "scans") == "attachments/scans/note.txt"
        with pytest.raises(buildlog.InvalidInput, match="is there already"):
            work.attach(file, "scans")
        work.record("scan")
    assert (demo_copy / "attachments/scans/note.txt").read_text() == "as found"


REFUSED: dict[str, Callable[[Any], object]] = {
    "a field that is none": lambda work: work.set("exhaust.pipe_diametre", "63 mm"),
    "a unit that is none": lambda work: work.set("exhaust.pipe_diameter", "63 furlong"),
    "a number without a unit": lambda work: work.set("exhaust.pipe_diameter", 63),
    "an empty value": lambda work: work.set("exhaust.pipe_diameter", " "),
    "a value out of bounds": lambda work: work.set("engine.compression_ratio", 98),
    "a field of a list": lambda work: work.set("work.item", "x"),
    "a part that is none": lambda work: work.fault("x", part="engine.flux"),
    "a code that is none": lambda work: work.fault("x", codes=["P02"]),
    "a list that is none": lambda work: work.begin_list("nothing"),
    "an item without a list": lambda work: work.tick("straps", "pass"),
    "a fault that is none": lambda work: work.close_fault("nothing"),
    "a stage twice": lambda work: (work.work("x"), work.record("x", stage="stage-1")),
    "an odometer that goes back": lambda work: (work.work("x"), work.record("x", odometer="1 mi")),
    "an entry that is none": lambda work: (work.work("x"), work.record("x", corrects="99")),
    "nothing to record": lambda work: work.record("nothing"),
}


@pytest.mark.parametrize("what", REFUSED)
def test_what_the_command_refuses_is_refused_and_nothing_changed(
    what: str, demo_copy: Path
) -> None:
    with buildlog.open(demo_copy) as car:
        work = car.edit(by="D-07")
        before = state(demo_copy)
        with pytest.raises(buildlog.BuildlogError) as caught:
            REFUSED[what](work)
        assert caught.value.hint
        assert state(demo_copy) == before


def test_an_act_that_was_refused_leaves_the_others_in_the_edit(demo_copy: Path) -> None:
    with buildlog.open(demo_copy) as car, car.edit(by="D-07") as work:
        work.set("exhaust.pipe_diameter", "63.5 mm")
        with pytest.raises(buildlog.InvalidInput):
            work.set("exhaust.pipe_diameter", "63.5")
        assert [change.path for change in work.preview().changes] == ["exhaust.pipe_diameter"]
        work.abandon()


def test_another_entry_meanwhile_refuses_it_all(demo_copy: Path) -> None:
    with buildlog.open(demo_copy) as car, buildlog.open(demo_copy) as other:
        mine, theirs = car.edit(by="D-07"), other.edit(by="R-02")
        mine.set("exhaust.pipe_diameter", "63.5 mm")
        theirs.work("clock")
        theirs.record("clock", odometer="89700 mi")
        before = state(demo_copy)
        with pytest.raises(buildlog.ChangedUnderYou):
            mine.record("exhaust", odometer="89700 mi")
        assert state(demo_copy) == before
        with car.fresh() as newer:
            again = newer.edit(by="D-07")
            again.set("exhaust.pipe_diameter", "63.5 mm")
            assert again.record("exhaust", odometer="89700 mi").number == 18


def test_an_edit_holds_no_lock(demo_copy: Path) -> None:
    with buildlog.open(demo_copy) as car:
        mine = car.edit(by="D-07")
        mine.work("one")
        mine.preview("x")
        assert not (demo_copy / ".git" / "buildlog.holder").exists()
        with buildlog.open(demo_copy) as other:
            work = other.edit(by="R-02")
            work.work("two")
            work.record("two", odometer="89700 mi")


def test_what_was_not_recorded_is_told(demo_copy: Path) -> None:
    with buildlog.open(demo_copy) as car:
        told = r"without record\(\): car.toml not written"
        with pytest.warns(UserWarning, match=told), car.edit() as work:
            work.work("clock")
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            with car.edit() as work:
                work.work("clock")
                work.abandon()
            with car.edit():
                pass
        with pytest.raises(buildlog.UsageError, match="was abandoned"):
            work.work("clock")
        assert "abandoned" in repr(work)


def test_what_was_recorded_is_not_edited_again(demo_copy: Path) -> None:
    with buildlog.open(demo_copy) as car:
        work = car.edit(by="D-07")
        work.work("clock")
        assert "1 file, not recorded" in repr(work)
        work.record("clock", odometer="89700 mi")
        assert "recorded as entry 17" in repr(work)
        with pytest.raises(buildlog.UsageError, match="was recorded as entry 17"):
            work.work("another")


def test_airbags_are_told_of(demo_copy: Path) -> None:
    with buildlog.open(demo_copy) as car, car.edit(by="D-07") as work:
        with pytest.warns(UserWarning, match="trained people"):
            work.work("seat taken out")
        work.abandon()


def test_the_user_of_the_settings_is_who_did_it(demo_copy: Path) -> None:
    with buildlog.open(demo_copy) as car:
        work = car.edit()
        work.work("clock")
        work.record("clock", odometer="89700 mi", notes="as asked", approved_by="R-01", date=DAY)
        with car.fresh() as newer:
            newest = newer.version("latest")
            assert (newest.approved_by, newest.notes, newest.date) == ("R-01", "as asked", DAY)
