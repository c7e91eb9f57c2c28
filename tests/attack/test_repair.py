"""The branch set anew: only the proven line, whoever puts what beside it."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from buildlog.store.ledger.ledger import Ledger
from buildlog.store.verify.verdict import verify_folder
from tests.attack.worlds import call, done, entries
from tests.histories import git


@pytest.fixture
def car(tmp_path: Path) -> Path:
    done(tmp_path, "new", "car", "--name", "Marrow Tern")
    folder = tmp_path / "car"
    done(folder, "record", "-m", "as found", "--odometer", "88000 mi")
    done(folder, "set", "engine.bore=90.2 mm")
    done(folder, "record", "-m", "bored", "--odometer", "88100 mi", "--stage", "stage-1")
    return folder


def lose(car: Path) -> str:
    tip = entries(car)[0]
    (car / ".git/refs/heads/main").unlink()
    return tip


@pytest.mark.parametrize("held", [None, b"", b"123", b"\0" * 41, b"f" * 40 + b"\n"])
def test_a_lost_or_torn_branch_is_damage_and_the_proven_line_is_adopted(
    car: Path, held: bytes | None
) -> None:
    tip = lose(car)
    if held is not None:
        (car / ".git/refs/heads/main").write_bytes(held)
    for command in (["record", "-m", "x", "--odometer", "unknown"], ["history"], ["verify"]):
        assert call(car, *command).status == 5
    assert "nothing was changed" not in done(car, "repair")
    assert entries(car)[0] == tip
    done(car, "set", "engine.bore=91 mm")
    done(car, "record", "-m", "more", "--odometer", "88200 mi")
    done(car, "set", "engine.bore=92 mm")
    done(car, "record", "-m", "and more", "--odometer", "88300 mi")
    found = verify_folder(car)
    assert found.verdict == "consistent"
    assert [one.code for one in found.findings].count("repaired") == 1
    old = {None: "none", b"f" * 40 + b"\n": "f" * 40}.get(held, "torn")
    assert f"Repaired: {old} {tip}\n" in git(car, "log", "--format=%B", "main~1", "-1")
    assert git(car, "status", "--porcelain") == ""


def test_a_whole_branch_is_not_repaired(car: Path) -> None:
    said = call(car, "repair")
    assert (said.status, "leads to a whole history" in said.err) == (4, True)


def lines_of(car: Path, tip: str) -> None:
    """Somebody else's longer line, sealed by this program itself, on the same entry 1."""
    forged = car.parent / "forged"
    shutil.copytree(car, forged)
    git(forged, "update-ref", "refs/heads/main", f"{tip}~1")
    git(forged, "checkout", "-q", "-f", "main")
    for number in range(5):
        done(forged, "set", f"engine.bore={80 + number} mm")
        done(forged, "record", "-m", f"forged {number}", "--odometer", f"{88150 + number} mi")
    for path in (forged / ".git/objects/pack").iterdir():
        if not (car / ".git/objects/pack" / path.name).exists():
            shutil.copyfile(path, car / ".git/objects/pack" / path.name)


def a_longer_line(car: Path, tip: str) -> None:
    lines_of(car, tip)


def a_tag_set_by_hand(car: Path, tip: str) -> None:
    lines_of(car, tip)
    forged = git(car.parent / "forged", "rev-parse", "main").strip()
    git(car, "tag", "-a", "handover/1", "-m", "given", forged)


def a_missing_list(car: Path, tip: str) -> None:
    lines_of(car, tip)
    shutil.rmtree(car / ".git/buildlog")


def only_the_forged_line(car: Path, tip: str) -> None:
    """The true line's newest objects are gone, and no list says so."""
    the_true_objects_gone(car, tip)
    shutil.rmtree(car / ".git/buildlog")


def the_true_objects_gone(car: Path, tip: str) -> None:
    """The list still holds the true tip; only the forged line reads back whole."""
    lines_of(car, tip)
    git(car.parent / "forged", "reflog", "expire", "--all", "--expire=now")
    shutil.rmtree(car.parent / "forged/.git/refs/tags", ignore_errors=True)
    git(car.parent / "forged", "gc", "-q", "--prune=now")
    shutil.rmtree(car / ".git/objects")
    shutil.copytree(car.parent / "forged/.git/objects", car / ".git/objects")


def a_newer_date(car: Path, tip: str) -> None:
    tree = git(car, "rev-parse", f"{tip}^{{tree}}").strip()
    git(car, "commit-tree", tree, "-p", tip, "-m", "newer\n\nEntry-kind: build\nRecord-sha256: "
        + "0" * 64)  # fmt: skip


def a_dropped_plan(car: Path, tip: str) -> None:
    tree = git(car, "rev-parse", f"{tip}^{{tree}}").strip()
    git(car, "commit-tree", tree, "-p", tip, "-m", "plan cam")


TRIES: list[Callable[[Path, str], None]] = [
    a_longer_line, a_tag_set_by_hand, a_missing_list, only_the_forged_line, the_true_objects_gone,
]  # fmt: skip


@pytest.mark.parametrize("attempt", TRIES, ids=lambda one: one.__name__)
def test_no_forged_line_is_adopted_without_its_id_typed(
    car: Path, attempt: Callable[[Path, str], None]
) -> None:
    tip = lose_after(car, attempt)
    said = call(car, "repair")
    assert said.status == 1, said
    assert "nothing was changed" in said.out
    assert not (car / ".git/refs/heads/main").exists()
    forged = git(car.parent / "forged", "rev-parse", "main").strip()
    assert call(car, "repair", "--to", forged[:12]).status == 4  # not in part
    if tip in said.out:
        done(car, "repair", "--to", tip)
        assert entries(car)[0] == tip
    else:
        done(car, "repair", "--to", forged)
        assert entries(car)[0] == forged
    done(car, "set", "engine.stroke=85 mm")
    done(car, "record", "-m", "on", "--odometer", "88400 mi")
    assert "repaired" in {one.code for one in verify_folder(car).findings}


@pytest.mark.parametrize("attempt", [a_newer_date, a_dropped_plan], ids=lambda one: one.__name__)
def test_what_is_no_line_does_not_stand_in_the_way(
    car: Path, attempt: Callable[[Path, str], None]
) -> None:
    tip = lose_after(car, attempt)
    said = call(car, "repair")
    assert (said.status, entries(car)[:1]) in [(0, [tip]), (5, []), (1, [])], said
    if said.status:
        done(car, "repair", "--to", tip)


def lose_after(car: Path, attempt: Callable[[Path, str], None]) -> str:
    tip = entries(car)[0]
    attempt(car, tip)
    (car / ".git/refs/heads/main").unlink()
    (car / ".git/refs/tags/stage/stage-1").unlink()
    return tip


def test_the_only_line_is_not_adopted_where_no_list_holds_it(car: Path) -> None:
    """An older ledger, or one whose list somebody took away: a person has to say so."""
    tip = lose(car)
    shutil.rmtree(car / ".git/buildlog")
    said = call(car, "repair")
    assert (said.status, said.out.count("entries, all whole")) == (1, 1)
    assert "no list of recorded ids holds it" in said.out
    done(car, "repair", "--to", tip)
    assert entries(car)[0] == tip


def test_nothing_recorded_is_no_damage(tmp_path: Path) -> None:
    done(tmp_path, "new", "car", "--name", "Marrow Tern")
    with Ledger.open(tmp_path / "car") as ledger:
        assert ledger.repo.tip() is None
        assert ledger.entries() == []


def test_a_missing_handover_tag_is_told(car: Path) -> None:
    done(car, "handover", "--no-pdf", "--to", "R. Holloway", str(car.parent / "given"))
    assert "handover-tag" not in {one.code for one in verify_folder(car).findings}
    git(car, "tag", "-d", "handover/1")
    told = [one.text for one in verify_folder(car).findings if one.code == "handover-tag"]
    assert told == ["entry 3 gives the car on; its tag handover/1 is gone"]
