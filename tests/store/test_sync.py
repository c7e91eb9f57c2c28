"""Two laptops, a week offline: nothing is lost, nothing is guessed, both end at one state."""

from __future__ import annotations

import dataclasses
import itertools
import os
import shutil
import subprocess
import sys
from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildlog.errors import (
    ChangedUnderYou,
    InvalidInput,
    NotFound,
    TrustError,
    UsageError,
)
from buildlog.records import leaf_text
from buildlog.store.exchange.remote import remote
from buildlog.store.exchange.two_copies import sync
from buildlog.store.git.message import EntryFacts
from buildlog.store.join import filemerge
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.verify.verdict import verify_folder
from tests.histories import (
    CAR,
    SESSION,
    Story,
    git,
    history,
    next_recorder,
    plain,
    put,
    record,
    stand_in_ssh,
    usual,
)


def undecided(questions):
    return {}


def meet(folder, other, decide=undecided, **more):
    with Ledger.open(folder) as ledger:
        return sync(ledger, remote(str(other)), decide, **more)


def write(folder, subject, files, day=1, **facts):
    """Record files on top of what a folder holds."""
    with Ledger.open(folder) as ledger:
        story = Story(ledger)
        for path, text in files.items():
            put(path, text)(story)
        by = next_recorder(ledger)
        by = dataclasses.replace(by, now=by.now + timedelta(days=day))
        return ledger.record(EntryFacts(subject, **facts), by)


def tip(folder):
    return git(folder, "rev-parse", "main").strip()


def car(folder):
    return (folder / "car.toml").read_text()


def sound(folder):
    found = verify_folder(folder)
    assert found.verdict == "consistent", found.findings
    assert git(folder, "status", "--porcelain") == ""
    assert git(folder, "fsck", "--full", "--strict", "--no-dangling") == ""
    return found


@pytest.fixture
def pair(tmp_path):
    """Laptops a and b with one history, and a stick."""
    usual(tmp_path / "a").close()
    meet(tmp_path / "a", tmp_path / "stick")
    with Ledger.create(tmp_path / "b") as ledger:
        (ledger.repo.git / "buildlog-nonce").unlink()
    (tmp_path / "b/.git/index").unlink(missing_ok=True)
    meet(tmp_path / "b", tmp_path / "stick")
    return tmp_path / "a", tmp_path / "b", tmp_path / "stick"


def test_an_empty_folder_becomes_a_copy(pair):
    a, b, stick = pair
    assert tip(a) == tip(b) == tip(stick)
    assert car(a) == car(b) == car(stick)
    for folder in pair:
        sound(folder)
    assert meet(a, stick).state == "equal"


def test_a_week_offline_then_a_b_a_through_a_third_folder(pair):
    a, b, stick = pair
    for day in range(3):
        new = CAR.replace("9.2", f"8.{day}")
        write(a, f"a {day}", {"car.toml": new, f"faults/a{day}.toml": "format = 1\n"})
        name = f"dyno/b{day}"
        write(b, f"b {day}", {f"{name}/session.toml": SESSION, f"{name}/pull-1.csv": "n,P\n1,2\n"})
    write(b, "b bore", {"car.toml": CAR.replace("9.2", "9.0").replace("84.0 mm", "84.5 mm")})
    assert meet(a, stick).state == "sent"
    done = meet(b, stick)
    assert (done.state, len(done.received), len(done.sent)) == ("joined", 3, 4)
    assert meet(a, stick).state == "received"
    assert tip(a) == tip(b) == tip(stick) == done.tip
    for folder in pair:
        sound(folder)
        assert "compression_ratio = 8.2" in car(folder)
        assert 'bore = "84.5 mm"      # measured' in car(folder)
    with Ledger.open(a) as ledger:
        assert len(ledger.entries()) == 3 + 3 + 4
        held = ledger.files(ledger.entries()[-1])
    assert {f"faults/a{day}.toml" for day in range(3)} <= set(os.listdir(a / "faults")) or held
    assert sorted(os.listdir(a / "dyno")) == sorted(os.listdir(b / "dyno"))


def test_both_sides_make_the_same_merge(pair, tmp_path):
    """Each joins the other's line by itself, without a third folder: the same commit."""
    a, b, _ = pair
    write(a, "a", {"car.toml": CAR.replace("9.2", "8.5")})
    write(b, "b", {"faults/b.toml": "format = 1\n"})
    shutil.copytree(a, tmp_path / "a2")
    shutil.copytree(b, tmp_path / "b2")
    meet(a, b)
    meet(tmp_path / "b2", tmp_path / "a2")
    assert tip(a) == tip(b) == tip(tmp_path / "a2") == tip(tmp_path / "b2")


def test_what_both_changed_is_asked_with_who_and_when(pair):
    a, b, stick = pair
    write(a, "skimmed", {"car.toml": CAR.replace("9.2", "8.5")}, done_by="RK")
    write(b, "thick gasket", {"car.toml": CAR.replace("9.2", "8.1")}, done_by="07")
    meet(a, stick)
    before = [tip(one) for one in pair]
    asked = []

    def nobody(questions):
        asked.extend(questions)
        return {}

    with pytest.raises(ChangedUnderYou, match=r"engine\.compression_ratio"):
        meet(b, stick, nobody)
    assert [tip(one) for one in pair] == before
    (question,) = asked
    assert (question.name, question.was) == ("engine.compression_ratio", 9.0)
    assert (question.ours.value, question.ours.entry.done_by) == (8.1, "07")
    assert (question.theirs.value, question.theirs.entry.subject) == (8.5, "skimmed")
    meet(b, stick, lambda questions: {"engine.compression_ratio": "theirs"})
    meet(a, stick)
    assert tip(a) == tip(b)
    assert "8.5" in car(a)
    sound(a)
    said = git(a, "log", "-1", "--format=%B")
    assert f"Decided: engine.compression_ratio as in {before[0][:8]}" in said


def test_one_size_in_two_units_is_no_question(pair):
    a, b, stick = pair
    write(a, "inch", {"car.toml": CAR.replace("9.2", "9.0").replace("84.0 mm", "3.307 in")})
    write(b, "year", {"car.toml": CAR.replace("9.2", "9.0").replace("1994", "1995")})
    meet(a, stick)
    assert meet(b, stick).state == "joined"
    assert 'bore = "3.307 in"' in car(b)
    assert "year = 1995" in car(b)
    sound(b)


def test_two_records_of_one_name_both_stay(pair):
    a, b, stick = pair
    for folder, word in ((a, "belt"), (b, "hose")):
        name = "dyno/2026-02-01"
        write(folder, word, {
            "faults/x.toml": f'format = 1\nsymptom = "{word}"\n',
            f"{name}/session.toml": SESSION + f'place = "{word}"\n',
            f"{name}/pull-1.csv": f"n,P\n{word}\n",
        })  # fmt: skip
    meet(a, stick)
    done = meet(b, stick)
    meet(a, stick)
    assert len(done.renamed) == 3
    assert len(os.listdir(a / "faults")) == 2
    for session in (a / "dyno").glob("2026-02-01*"):
        word = (session / "session.toml").read_text().split('place = "')[1].split('"')[0]
        assert word in (session / "pull-1.csv").read_text()  # sessions are never mixed
    assert len(list((a / "dyno").glob("2026-02-01*"))) == 2
    assert tip(a) == tip(b)
    sound(a)
    sound(b)


def test_a_dry_run_writes_nothing(pair):
    a, b, stick = pair
    write(a, "a", {"faults/a.toml": "format = 1\n"})
    write(b, "b", {"faults/b.toml": "format = 1\n"})
    meet(a, stick)
    before = [sorted(p.relative_to(one) for p in one.rglob("*")) for one in pair]
    assert meet(b, stick, dry_run=True).state == "joined"
    after = [sorted(p.relative_to(one) for p in one.rglob("*")) for one in pair]
    assert [set(x) ^ set(y) for x, y in zip(before, after, strict=True)] <= [
        {Path(".git/buildlog.lock")}
    ] * 3 or before == after


def test_edits_that_are_not_recorded_stay_or_stand_in_the_way(pair):
    a, b, stick = pair
    write(a, "a", {"car.toml": CAR.replace("9.2", "8.5")})
    meet(a, stick)
    (b / "priors.toml").write_text("x = 1\n")
    meet(b, stick)
    assert (b / "priors.toml").read_text() == "x = 1\n"
    assert "8.5" in car(b)
    write(a, "again", {"car.toml": CAR.replace("9.2", "8.4")})
    meet(a, stick)
    (b / "car.toml").write_text(CAR.replace("9.2", "7.0"))
    with pytest.raises(ChangedUnderYou, match=r"car\.toml was edited here"):
        meet(b, stick)
    assert "7.0" in car(b)


def test_another_car_and_a_damaged_history_are_refused(pair, tmp_path):
    a, _, stick = pair
    other = history(tmp_path / "other", [put("car.toml", CAR), record("x")], nonce="77" * 16)
    other.close()
    with pytest.raises(InvalidInput, match="another car"):
        meet(a, tmp_path / "other")
    with Ledger.open(stick) as ledger:
        put("dyno/2026-01-07-baseline/pull-1.csv", "n,P\n3000,999\n")(Story(ledger))
        plain("nothing to see", "dyno")(Story(ledger))
    before = tip(a)
    with pytest.raises(TrustError, match="recorded evidence"):
        meet(a, stick)
    assert tip(a) == before
    missing = git(a, "cat-file", "--batch-check", given=tip(stick).encode())
    assert "missing" in missing  # not even its objects came in


def test_the_other_side_moving_meanwhile_is_met_again(pair, monkeypatch):
    a, b, stick = pair
    write(a, "a", {"faults/a.toml": "format = 1\n"})
    write(b, "b", {"faults/b.toml": "format = 1\n"})
    with Ledger.open(a) as ledger:
        side = remote(str(stick))
        push, meddled = side.push, []

        def slow(repo, moves):
            if not meddled:
                meddled.append(meet(b, stick))
            return push(repo, moves)

        monkeypatch.setattr(side, "push", slow)
        done = sync(ledger, side, undecided)
    assert done.state == "joined"
    assert [entry.subject for entry in done.received] == ["b"]
    meet(b, stick)
    assert tip(a) == tip(b) == tip(stick)
    assert {"faults/a.toml", "faults/b.toml"} <= {f"faults/{n}" for n in os.listdir(b / "faults")}


def test_a_bare_repository_and_a_git_server(pair, tmp_path):
    a, b, _ = pair
    git(tmp_path, "init", "-q", "--bare", "-b", "main", "bare.git")
    write(a, "a", {"faults/a.toml": "format = 1\n"})
    write(b, "b", {"faults/b.toml": "format = 1\n"})
    meet(a, tmp_path / "bare.git")
    meet(b, tmp_path / "bare.git")
    meet(a, tmp_path / "bare.git")
    assert tip(a) == tip(b) == tip(tmp_path / "bare.git")
    assert git(tmp_path / "bare.git", "fsck", "--strict", "--no-dangling") == ""


@pytest.fixture
def ssh(tmp_path, monkeypatch):
    stand_in_ssh(tmp_path, monkeypatch)


@pytest.mark.usefixtures("ssh")
def test_a_server_over_ssh_with_plain_git_behind_it(pair, tmp_path):
    """git's own upload-pack and receive-pack on the far side; only ssh is stood in for."""
    a, b, _ = pair
    git(tmp_path, "init", "-q", "--bare", "-b", "main", "far.git")
    url = f"ssh://example.invalid{tmp_path}/far.git"
    write(a, "a", {"faults/a.toml": "format = 1\n"})
    write(b, "b", {"car.toml": CAR.replace("9.2", "8.5")})
    assert meet(a, url).state == "sent"
    assert meet(b, url).state == "joined"
    assert meet(a, url).state == "received"
    assert tip(a) == tip(b) == tip(tmp_path / "far.git")
    assert meet(b, url).state == "equal"
    sound(a)


@pytest.mark.usefixtures("ssh")
def test_a_server_that_is_not_there(pair, tmp_path):
    """In a process of its own: dulwich leaves the one of a failed connection unattended."""
    url = f"ssh://example.invalid{tmp_path}/nowhere.git"
    before = tip(pair[0])
    program = "from buildlog.cli.main import run; run()"
    done = subprocess.run(
        [sys.executable, "-c", program, "sync", url, "--ledger", str(pair[0])],
        capture_output=True, text=True, check=False, cwd=Path(__file__).parents[2],
    )  # fmt: skip
    assert done.returncode == 3
    assert "there is no repository at this place" in done.stderr
    assert "Traceback" not in done.stderr
    assert tip(pair[0]) == before


@pytest.mark.parametrize(
    "name", ["ftp://x/y", "ext::sh -c x", "ssh://-oProxyCommand=x/y", "http://x/y"]
)
def test_other_ways_are_no_ways(pair, name):
    with pytest.raises(UsageError, match="no way to another ledger"):
        meet(pair[0], name)


def test_a_folder_whose_place_is_missing_is_not_made(pair, tmp_path):
    with pytest.raises(NotFound, match="does not exist"):
        meet(pair[0], tmp_path / "unplugged" / "tern")
    assert not (tmp_path / "unplugged").exists()


# --- order does not matter ----------------------------------------------------------------

EDITS = {
    "engine.bore": ['"85.0 mm"', '"3.346 in"'],
    "engine.stroke": ['"78.0 mm"'],
    "engine.compression_ratio": ["8.4", "10.1"],
    "car.year": ["1993"],
    "chassis.mass": ['"1385 kg"'],
    "fuel.injectors.flow": ['"550 cc/min"'],
    "fuel.injectors.count": ["6"],
    "fuel.pump.flow": ['"255 l/h"'],
    "tyres.size": ['"205/55R16"'],
}


def edited(base: bytes, edits: dict[str, str], works: list[str]) -> bytes:
    import tomllib

    from buildlog.records.toml import toml_edit

    for path, value in edits.items():
        data = tomllib.loads(f"x = {value}")["x"]
        base = toml_edit.set_values(base, {path: data})
    for name in works:
        base = toml_edit.append_items(base, "work", [{"item": name, "note": f"done {name}"}])
    return base


@st.composite
def three_sides(draw):
    """Three people's edits that share no field."""
    paths = draw(st.permutations(sorted(EDITS)))
    owners = draw(st.lists(st.integers(0, 3), min_size=len(paths), max_size=len(paths)))
    sides = [({}, []) for _ in range(3)]
    for path, owner in zip(paths, owners, strict=True):
        if owner < 3:
            sides[owner][0][path] = draw(st.sampled_from(EDITS[path]))
    for number in range(draw(st.integers(0, 4))):
        sides[draw(st.integers(0, 2))][1].append(f"paint {number}")
    return sides


@pytest.mark.parametrize("examples", [20, pytest.param(200, marks=pytest.mark.long)])
def test_joining_does_not_depend_on_the_order(examples):
    law = given(sides=three_sides())(in_any_order)
    settings(max_examples=examples)(law)()


def in_any_order(sides):
    """car.toml byte for byte the same, and every field of every side in it."""
    base = (CAR + '\n[[work]]\nitem = "seats"\n').encode()
    texts = [edited(base, *side) for side in sides]
    results = set()
    for one, two, three in itertools.permutations(texts):
        middle, open_, _ = filemerge.joined([base], one, two)
        assert not open_
        assert middle is not None
        last, open_, _ = filemerge.joined([base], middle, three)
        assert not open_
        results.add(last)
    assert len(results) == 1
    whole = leaf_text.fields(results.pop())
    for edits, works in sides:
        side = leaf_text.fields(edited(base, edits, works))
        for path, value in side.items():
            if leaf_text.fields(base).get(path) != value:
                assert whole[path] == value
    assert b"# measured" in base
