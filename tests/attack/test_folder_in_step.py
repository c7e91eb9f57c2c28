"""Two computers that record in one folder which a file service keeps in step.

Imitated: each computer has the folder; after both recorded, the files of both arrive on each side
in one of three orders, and where both changed one file the service lets one side win.
"""

from __future__ import annotations

import random
import shutil
from collections import Counter
from pathlib import Path

import pytest

from buildlog.store.ledger import recorded
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.verify.verdict import verify_folder
from tests.attack.worlds import done, entries
from tests.histories import git

ORDERS = ("objects first", "branch first", "lists last")


def arrive(source: Path, target: Path, order: str, wins: bool) -> None:
    """What the other computer's folder holds comes here; its branch only if it wins."""
    files = [path for path in source.rglob("*") if path.is_file()]
    ranks = {
        "objects first": lambda name: "objects" not in name,
        "branch first": lambda name: "refs/heads" not in name,
        "lists last": lambda name: "buildlog/" in name,
    }
    skipped = ("buildlog.lock", "buildlog.holder", "index", "buildlog-nonce")
    for path in sorted(files, key=lambda one: ranks[order](str(one))):
        name = path.relative_to(source).as_posix()
        there = target / name
        own = name == "car.toml" or "refs/" in name
        if path.name in skipped or (there.exists() and not (wins and own)):
            continue
        there.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(path, there)


def record(folder: Path, who: str, number: int, monkeypatch: pytest.MonkeyPatch) -> str:
    """One more entry by a computer of this name; its id."""
    monkeypatch.setattr(recorded, "_computer", lambda: f"bench-{who}")
    path = folder / f"attachments/{who}-{number}.txt"
    path.parent.mkdir(exist_ok=True)
    path.write_text(f"{who} {number}\n")
    done(folder, "record", "-m", f"{who} {number}", "--odometer", "unknown", "--done-by", who)
    return entries(folder)[0]


@pytest.mark.parametrize("rounds", [6, pytest.param(50, marks=pytest.mark.long)])
@pytest.mark.parametrize("order", ORDERS)
def test_no_entry_is_lost_and_every_stray_one_is_named_and_joined(
    tmp_path: Path, order: str, rounds: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    one, other = tmp_path / "one/car", tmp_path / "other/car"
    one.parent.mkdir()
    done(one.parent, "new", "car", "--name", "Marrow Tern")
    done(one, "record", "-m", "as found", "--odometer", "88000 mi")
    shutil.copytree(one, other)
    random_, acknowledged, found = random.Random(order), set(entries(one)), Counter[str]()
    for number in range(rounds):
        for folder, who in ((one, "D-07"), (other, "K-02")):
            if random_.random() < 0.8:
                acknowledged.add(record(folder, who, number, monkeypatch))
        winner, loser = random_.sample([one, other], 2)
        arrive(winner, loser, order, wins=True)
        arrive(loser, winner, order, wins=False)
        with Ledger.open(loser) as ledger:
            named = recorded.findings(ledger.repo, ledger.entries())
        missing = acknowledged - set(entries(loser))
        assert {one_.where for one_ in named} == missing
        found["strays"] += len(missing)
        found["rounds with one"] += bool(missing)
        if missing:
            git(loser, "reset", "-q")  # the index of the side that lost
            done(loser, "sync", "--beside", "--take", "ours")
            done(loser, "pack")
        git(loser, "checkout", "-q", "--", ".")
        shutil.rmtree(winner)
        shutil.copytree(loser, winner)
        assert acknowledged <= set(entries(loser))
    assert verify_folder(one).verdict == "consistent"
    with Ledger.open(one) as ledger:
        assert recorded.findings(ledger.repo, ledger.entries()) == []
    assert found["strays"] > rounds // 6
    print(rounds, "rounds,", order, len(acknowledged), "entries,", dict(found))


def test_what_is_no_missing_entry(tmp_path: Path) -> None:
    """Plans set and dropped, a lost race, a crash: commits that no branch leads to, and nothing."""
    done(tmp_path, "new", "car", "--name", "Marrow Tern")
    car = tmp_path / "car"
    done(car, "record", "-m", "as found", "--odometer", "88000 mi")
    for name in ("cam", "turbo"):
        done(car, "plan", "new", name)
        done(car, "plan", "set", name, "engine.bore=91 mm")
        done(car, "plan", "drop", name)
    tree = git(car, "rev-parse", "HEAD^{tree}").strip()
    git(car, "commit-tree", tree, "-p", "HEAD", "-m", "raced")  # seen by nobody
    with Ledger.open(car) as ledger:
        assert recorded.findings(ledger.repo, ledger.entries()) == []


def test_a_change_that_is_here_under_another_id_is_not_missing(tmp_path: Path) -> None:
    """Made again by a plain git on another line: the words and the files are here."""
    done(tmp_path, "new", "car", "--name", "Marrow Tern")
    car = tmp_path / "car"
    done(car, "record", "-m", "as found", "--odometer", "88000 mi")
    done(car, "set", "engine.bore=91 mm")
    done(car, "record", "-m", "bored", "--odometer", "88100 mi")
    git(car, "commit", "-q", "--amend", "--no-edit", "--date", "2026-01-02T00:00:00")
    with Ledger.open(car) as ledger:
        assert recorded.findings(ledger.repo, ledger.entries()) == []


@pytest.mark.parametrize("name", ["car 2.toml", "car (conflicted copy 2026-05-03).toml",
                                  "dyno/a/session (conflicted copy).toml"])  # fmt: skip
def test_a_conflict_copy_is_told_and_not_recorded(tmp_path: Path, name: str) -> None:
    done(tmp_path, "new", "car", "--name", "Marrow Tern")
    car = tmp_path / "car"
    (car / name).parent.mkdir(parents=True, exist_ok=True)
    shutil.copyfile(car / "car.toml", car / name)
    told = done(car, "record", "-m", "as found", "--odometer", "88000 mi")
    assert name not in git(car, "ls-tree", "-r", "--name-only", "main").split("\n")
    if name.startswith("dyno"):
        assert "two computers changed one file" in " ".join(told.split())


def test_a_folder_in_step_is_warned_of_by_new_and_next(tmp_path: Path) -> None:
    from tests.attack.worlds import call

    (tmp_path / ".filesync").mkdir()
    said = call(tmp_path, "new", "car", "--name", "Marrow Tern")
    assert "keeps in step" in said.err
    done(tmp_path / "car", "record", "-m", "as found", "--odometer", "88000 mi")
    assert done(tmp_path / "car", "next").count("keeps in step") == 1
