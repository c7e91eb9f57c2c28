"""Plans on branches: they follow an entry, hold a whole car, and never touch main."""

from __future__ import annotations

from pathlib import Path

import pytest

from buildlog.errors import ChangedUnderYou, DamagedLedger, InvalidInput, NotFound
from buildlog.store.ledger import plan_branches
from buildlog.store.ledger.names import PLANS, WORKING
from tests.histories import CAR, git, next_recorder, usual

CHANGED = CAR.replace("9.2", "8.5").encode()


@pytest.fixture
def ledger(tmp_path: Path):
    with usual(tmp_path / "car") as found:
        yield found


def made(ledger, name="turbo", car=CHANGED):
    return plan_branches.create(ledger, name, ledger.resolve("latest"), car, next_recorder(ledger))


def test_a_plan_follows_its_entry_and_leaves_main_alone(ledger) -> None:
    tip, working = ledger.repo.tip(), ledger.read(WORKING, "car.toml")
    branch = made(ledger)
    assert branch.base.id == tip == ledger.repo.tip()
    assert ledger.read(WORKING, "car.toml") == working
    assert git(ledger.folder, "status", "--porcelain") == ""
    assert git(ledger.folder, "fsck", "--strict") == ""
    assert git(ledger.folder, "log", "--format=%s", "plan/turbo", "-1").strip() == "plan turbo"
    differs = git(ledger.folder, "diff", "--name-only", "main", "plan/turbo").split()
    assert differs == ["car.toml", "plan.toml"]
    assert ledger.read(ledger.resolve("plan:turbo"), "car.toml") == CHANGED
    assert len(ledger.entries()) == 3


def test_each_change_is_one_more_commit(ledger) -> None:
    branch = made(ledger)
    priced = b'format = 1\nprice = "5200.00"\n'
    changed = plan_branches.change(
        ledger, branch, {"plan.toml": priced}, "price", next_recorder(ledger)
    )
    assert changed.base == branch.base
    assert git(ledger.folder, "rev-list", "--count", "main..plan/turbo").strip() == "2"
    assert ledger.read(changed.version, "plan.toml") == priced
    with pytest.raises(ChangedUnderYou):
        plan_branches.change(
            ledger, branch, {"plan.toml": b"format = 1\n"}, "late", next_recorder(ledger)
        )


def test_a_plan_may_start_from_another_plan(ledger) -> None:
    made(ledger)
    other = plan_branches.create(
        ledger, "turbo-2", ledger.resolve("plan:turbo"), CHANGED, next_recorder(ledger)
    )
    assert other.base.number == 3
    assert [one.name for one in plan_branches.plans(ledger)] == ["turbo", "turbo-2"]


@pytest.mark.parametrize("path", ["dyno/2026-01-07-baseline/session.toml", "notes.txt", "a/../b"])
def test_nothing_but_the_car_and_the_price_may_change(ledger, path: str) -> None:
    with pytest.raises(InvalidInput, match="cannot be changed by a plan"):
        plan_branches.change(ledger, made(ledger), {path: b""}, "x", next_recorder(ledger))


@pytest.mark.parametrize("name", ["12", "latest", "a..b", "x.lock", "../main", "", "3fa81c02"])
def test_a_name_that_means_something_else_is_refused(ledger, name: str) -> None:
    with pytest.raises(InvalidInput, match="plan name"):
        made(ledger, name)


def test_one_name_is_used_once(ledger) -> None:
    made(ledger)
    with pytest.raises(InvalidInput, match="already"):
        made(ledger)


@pytest.mark.parametrize("packed", [False, True])
def test_a_dropped_plan_is_gone_and_main_stays(ledger, packed: bool) -> None:
    tip = ledger.repo.tip()
    branch, kept = made(ledger), made(ledger, "other")
    if packed:
        git(ledger.folder, "pack-refs", "--all")
    plan_branches.drop(ledger, branch)
    assert list(ledger.repo.references(PLANS)) == ["other"]
    assert git(ledger.folder, "branch", "--format=%(refname)").split() == [
        "refs/heads/main",
        "refs/heads/plan/other",
    ]
    assert ledger.repo.tip() == tip
    with pytest.raises(NotFound, match="no plan") as error:
        plan_branches.find(ledger, "turbo")
    assert "other" in str(error.value)
    assert plan_branches.find(ledger, "plan:other") == kept


def test_a_plan_moved_meanwhile_is_not_dropped(ledger) -> None:
    branch = made(ledger)
    plan_branches.change(ledger, branch, {"car.toml": CAR.encode()}, "back", next_recorder(ledger))
    with pytest.raises(ChangedUnderYou):
        plan_branches.drop(ledger, branch)


def test_a_branch_of_another_history_is_no_plan_of_this_car(ledger) -> None:
    git(ledger.folder, "branch", "plan/stray", git(
        ledger.folder, "commit-tree", "main^{tree}", "-m", "stray").strip())  # fmt: skip
    with pytest.raises(DamagedLedger, match="does not follow any entry"):
        plan_branches.find(ledger, "stray")
