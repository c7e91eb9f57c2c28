"""`buildlog sync` as two technicians use it: what it says, asks and returns."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.histories import CAR, git
from tests.store.test_sync import meet, pair, tip, write
from tests.store.test_sync_names import hand_over, names, plan
from tests.terminal import at_terminal

assert pair  # the fixture


def run(folder, *arguments):
    """The command in a pipe: nobody can be asked."""
    return subprocess.run(
        [sys.executable, "-m", "buildlog", "sync", *arguments, "--ledger", str(folder)],
        capture_output=True, text=True, check=False, stdin=subprocess.DEVNULL,
        cwd=Path(__file__).parents[2], env=os.environ | {"COLUMNS": "80"},
    )  # fmt: skip


@pytest.fixture
def clash(pair):
    """Both changed the compression ratio; a's is on the stick."""
    a, b, stick = pair
    write(a, "skimmed", {"car.toml": CAR.replace("9.2", "8.5")}, done_by="RK")
    write(b, "thick gasket", {"car.toml": CAR.replace("9.2", "8.1")}, done_by="07")
    meet(a, stick)
    return a, b, stick


def test_what_came_and_went_is_told_with_the_tags_and_the_plans_that_stay(pair):
    a, b, stick = pair
    write(a, "skimmed", {"car.toml": CAR.replace("9.2", "8.5")}, done_by="RK")
    hand_over(a, 1)
    plan(a, "turbo", "8.0")
    assert run(a, str(stick)).returncode == 0
    write(b, "belt squeals", {"faults/b.toml": "format = 1\n"})
    lines = run(b, str(stick)).stdout.splitlines()
    assert lines[0] == "joined: 1 entry came, 1 entry went; both sides are now equal"
    assert lines[1].startswith("  came  ") and lines[1].endswith("skimmed (RK)")  # noqa: PT018
    assert lines[2].startswith("  went  ")
    assert "  came  handover/1" in lines
    said = run(a, str(stick)).stdout
    assert said.startswith("received: 1 entry; ours is now equal to the other side\n")
    assert "1 plan stays here (--with-plans exchanges them): turbo" in said
    assert "  went  plan:turbo" in run(a, str(stick), "--with-plans").stdout
    assert "plan" not in run(b, str(stick)).stdout


def test_a_dry_run_says_would_and_writes_nothing(pair):
    a, _, stick = pair
    write(a, "skimmed", {"car.toml": CAR.replace("9.2", "8.5")})
    before = names(stick)
    done = run(a, str(stick), "--dry-run")
    assert done.stdout.startswith("would be sent: 1 entry")
    assert "nothing was written (--dry-run)" in done.stdout
    assert "is now" not in done.stdout
    assert "  would go  " in done.stdout
    assert names(stick) == before


def test_json_tells_names_and_comments(pair):
    a, _, stick = pair
    hand_over(a, 1)
    found = json.loads(run(a, str(stick), "--json").stdout)
    assert found["format"] == "buildlog/sync/1"
    assert found["state"] == "equal"
    assert found["names"]["sent"] == ["handover/1"]
    assert found["names"]["differing"] == found["comments_left"] == []


def test_a_pipe_is_told_who_said_what_and_how_to_decide(clash):
    _, b, stick = clash
    before = tip(b), tip(stick)
    done = run(b, str(stick))
    assert done.returncode == 6
    assert "engine.compression_ratio was changed on both sides" in done.stdout
    assert "was     9.0" in done.stdout
    assert "by 07 on " in done.stdout
    assert "by RK on " in done.stdout
    assert "--take engine.compression_ratio=ours" in done.stderr
    assert (tip(b), tip(stick)) == before
    as_json = run(b, str(stick), "--json")
    assert (as_json.returncode, as_json.stdout) == (6, "")
    assert "by RK on " in as_json.stderr
    done = run(b, str(stick), "--take", "engine.compression_ratio=theirs")
    assert "  decided engine.compression_ratio: theirs" in done.stdout
    assert "8.5" in (b / "car.toml").read_text()


def test_a_person_at_a_terminal_is_asked(clash):
    _, b, stick = clash
    screen = at_terminal(b, ["sync", str(stick)], ["theirs"], prompt=":")
    assert "which one is right" in screen
    assert "joined: 1 entry came" in screen
    assert "8.5" in (b / "car.toml").read_text()


def test_a_person_who_leaves_it_open_loses_nothing(clash):
    _, b, stick = clash
    before = tip(b), tip(stick)
    screen = at_terminal(b, ["sync", str(stick)], [""], prompt=":")
    assert "changed on both sides and not decided" in screen
    assert (tip(b), tip(stick)) == before


def test_a_tag_that_differs_and_a_comment_left_out_are_told(pair):
    a, b, stick = pair
    ours, theirs = hand_over(a, 1, "to the owner"), hand_over(b, 1, "to the workshop")
    bore = 'bore = "84.0 mm"      # measured'
    base = (a / "car.toml").read_text()
    write(a, "a", {"car.toml": base.replace(bore + "\n", "")})
    write(b, "b", {"car.toml": base.replace("# measured", "# measured at 20 degrees")})
    run(a, str(stick))
    said = " ".join(run(b, str(stick)).stdout.split())
    assert f"handover/1 is {theirs[:8]} here and {ours[:8]} there; both were left" in said
    assert "kept in its entry: # measured at 20 degrees" in said


def test_plain_git_reads_what_three_copies_hold(pair, tmp_path):
    """A, B, A through a stick: one commit, and git's own clone, log and fsck agree."""
    a, b, stick = pair
    write(a, "a", {"car.toml": CAR.replace("9.2", "8.5")})
    write(b, "b", {"faults/b.toml": "format = 1\n"})
    hand_over(b, 1)
    for folder in (a, b, a):
        assert run(folder, str(stick)).returncode == 0
    assert names_of(a) == names_of(b) == names_of(stick)
    logs = {git(folder, "log", "--format=%H %s", "main") for folder in (a, b, stick)}
    assert len(logs) == 1
    for folder in (a, b, stick):
        assert git(folder, "fsck", "--full", "--strict", "--no-dangling") == ""
    git(tmp_path, "clone", "-q", "--no-local", str(stick), "clone")
    assert (tmp_path / "clone/car.toml").read_bytes() == (a / "car.toml").read_bytes()
    assert git(tmp_path / "clone", "tag").split() == git(a, "tag").split()


def names_of(folder):
    return {n: held for n, held in names(folder).items() if not n.startswith("refs/remotes/")}
