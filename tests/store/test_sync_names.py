"""Tags and plans in a sync: both sides have them, and one that differs is told and stays."""

from __future__ import annotations

import pytest

from buildlog.store.exchange import passing_on
from buildlog.store.ledger import plan_branches
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.verify.verdict import Outside, verify_folder
from tests.histories import CAR, git, next_recorder
from tests.signing import key, needs_ssh_keygen
from tests.store.test_sync import meet, pair, sound, tip, undecided, write

assert pair  # the fixture

PLAN = b"format = 1\n"


def names(folder):
    """Every name below refs, with what it holds."""
    found = git(folder, "for-each-ref", "--format=%(refname) %(objectname)").split("\n")
    return dict(line.split() for line in found if line)


def tags(folder):
    return {name: held for name, held in names(folder).items() if name.startswith("refs/tags/")}


def hand_over(folder, number, text="given on", sign=None):
    with Ledger.open(folder) as ledger:
        return passing_on.tag(ledger, number, f"{text}\n", next_recorder(ledger), sign)


def plan(folder, name, ratio):
    """A new plan, or one more commit on one that is there."""
    with Ledger.open(folder) as ledger:
        car = CAR.replace("9.2", ratio).encode()
        known = [one.name for one in plan_branches.plans(ledger)]
        if name in known:
            found = plan_branches.find(ledger, name)
            found = plan_branches.change(
                ledger, found, {"car.toml": car}, ratio, next_recorder(ledger)
            )
        else:
            latest = ledger.resolve("latest")
            found = plan_branches.create(ledger, name, latest, car, next_recorder(ledger), PLAN)
        return found.version.commit


def plan_names(folder):
    start = "refs/heads/plan/"
    return {n.removeprefix(start): held for n, held in names(folder).items() if n.startswith(start)}


def test_stage_and_handover_tags_reach_both_laptops(pair):
    a, b, stick = pair
    made = hand_over(a, 1)
    write(b, "b", {"car.toml": CAR.replace("9.2", "8.5")}, stage="stage-2")
    meet(a, stick)
    meet(b, stick)
    done = meet(a, stick)
    assert done.state == "received"
    assert tags(a) == tags(b) == tags(stick)
    assert tags(b)["refs/tags/handover/1"] == made
    assert tags(a)["refs/tags/stage/stage-2"] == tip(b)
    for folder in pair:
        sound(folder)


def test_a_tag_made_after_the_entries_met_goes_too(pair):
    """The branch is equal on both sides; the tag alone is what is new."""
    a, b, stick = pair
    made = hand_over(a, 1)
    done = meet(a, stick)
    assert (done.state, done.names.sent) == ("equal", ["handover/1"])
    done = meet(b, stick)
    assert (done.state, done.names.received) == ("equal", ["handover/1"])
    assert tags(b)["refs/tags/handover/1"] == made
    assert meet(b, stick).names.received == []


def test_a_bare_repository_gets_the_tags_and_plain_git_clones_them(pair, tmp_path):
    a, _, _ = pair
    made = hand_over(a, 1)
    git(tmp_path, "init", "-q", "--bare", "-b", "main", "bare.git")
    meet(a, tmp_path / "bare.git")
    git(tmp_path, "clone", "-q", "--no-local", "bare.git", "clone")
    assert tags(tmp_path / "clone") == tags(a)
    assert tags(a)["refs/tags/handover/1"] == made
    assert set(tags(a)) == {
        f"refs/tags/{n}" for n in ("handover/1", "stage/baseline", "stage/stage-1")
    }
    assert git(tmp_path / "bare.git", "fsck", "--full", "--strict", "--no-dangling") == ""


def test_a_tag_that_differs_is_told_and_stays(pair):
    a, b, stick = pair
    ours, theirs = hand_over(a, 1, "to the owner"), hand_over(b, 1, "to the workshop")
    meet(a, stick)
    for _ in range(2):
        done = meet(b, stick)
        (differing,) = done.names.differing
        assert (differing.name, differing.ours, differing.theirs) == ("handover/1", theirs, ours)
        assert tags(a)["refs/tags/handover/1"] == tags(stick)["refs/tags/handover/1"] == ours
        assert tags(b)["refs/tags/handover/1"] == theirs


def test_a_stage_tag_that_points_elsewhere_is_told_and_stays(pair):
    a, _, stick = pair
    git(stick, "tag", "-f", "stage/stage-1", "main~2")
    before = tags(stick)
    done = meet(a, stick)
    assert [one.name for one in done.names.differing] == ["stage/stage-1"]
    assert tags(stick) == before != tags(a)


@needs_ssh_keygen
def test_a_signed_tag_arrives_signed_and_an_altered_one_is_not_taken(pair, tmp_path):
    a, b, stick = pair
    signer = key(tmp_path, "bench")
    hand_over(a, 1, sign=signer)
    meet(a, stick)
    meet(b, stick)
    known = {signer.key.text: "bench"}
    assert verify_folder(b, Outside(known)).verdict == "intact"
    signed = git(b, "cat-file", "tag", "refs/tags/handover/1")
    forged = signed.replace("given on", "given up").replace("tag handover/1", "tag handover/2")
    made = git(stick, "mktag", given=forged.encode()).strip()
    git(stick, "update-ref", "refs/tags/handover/2", made)
    done = meet(b, stick)
    assert list(done.names.refused) == ["handover/2"]
    assert "refs/tags/handover/2" not in tags(b)
    assert verify_folder(b, Outside(known)).verdict == "intact"
    assert "missing" in git(b, "cat-file", "--batch-check", given=made.encode())


@pytest.mark.parametrize(
    ("make", "why"),
    [
        (lambda s: git(s, "update-ref", "refs/tags/handover/7", "main"), "no handover"),
        (lambda s: git(s, "update-ref", "refs/tags/handover/7", "main^{tree}"), "no handover"),
        (lambda s: git(s, "tag", "-a", "-m", "x", "handover/7", stray(s)), "no handover"),
    ],
)
def test_what_is_no_handover_is_not_taken(pair, make, why):
    a, _, stick = pair
    make(stick)
    before = names(a)
    done = meet(a, stick)
    assert why in done.names.refused["handover/7"]
    assert names(a) == before
    sound(a)


def stray(folder):
    """A commit that is no part of the history."""
    tree = git(folder, "rev-parse", "main^{tree}").strip()
    return git(folder, "commit-tree", "-m", "stray", tree).strip()


def test_names_that_a_ledger_does_not_use_stay_where_they_are(pair):
    a, _, stick = pair
    for name in ("refs/tags/v1", "refs/heads/other", "refs/tags/handover/x", "refs/notes/commits"):
        git(stick, "update-ref", name, "main")
    before = names(a)
    meet(a, stick, plans=True)
    assert names(a) == before


# --- plans ---------------------------------------------------------------------------------


def test_plans_stay_unless_they_are_asked_for(pair):
    a, b, stick = pair
    made = plan(a, "turbo", "8.0")
    meet(a, stick)
    assert plan_names(stick) == {}
    assert "missing" in git(stick, "cat-file", "--batch-check", given=made.encode())
    done = meet(a, stick, plans=True)
    assert done.names.sent == ["plan:turbo"]
    assert meet(b, stick).names.received == []
    assert meet(b, stick, plans=True).names.received == ["plan:turbo"]
    assert plan_names(a) == plan_names(b) == plan_names(stick) == {"turbo": made}
    for folder in pair:
        sound(folder)


def test_a_plan_goes_on_where_it_was_left(pair):
    a, b, stick = pair
    plan(a, "turbo", "8.0")
    meet(a, stick, plans=True)
    meet(b, stick, plans=True)
    newest = plan(b, "turbo", "7.9")
    write(a, "a", {"car.toml": CAR.replace("9.2", "8.8")})  # the plan's base stays an entry
    meet(b, stick, plans=True)
    assert meet(a, stick, plans=True).names.received == ["plan:turbo"]
    assert plan_names(a)["turbo"] == newest
    assert meet(a, stick, plans=True).names.received == []


def test_a_plan_that_both_went_on_with_is_kept_twice(pair):
    a, b, stick = pair
    plan(a, "turbo", "8.0")
    meet(a, stick, plans=True)
    meet(b, stick, plans=True)
    of_a, of_b = plan(a, "turbo", "7.9"), plan(b, "turbo", "8.1")
    meet(a, stick, plans=True)
    done = meet(b, stick, plans=True)
    (differing,) = done.names.differing
    assert (differing.ours, differing.theirs) == (of_b, of_a)
    assert differing.kept == f"plan:turbo-{of_a[:8]}"
    settled = [plan_names(one) for one in pair]
    assert settled[1] == {"turbo": of_b, f"turbo-{of_a[:8]}": of_a}
    assert settled[2] == {"turbo": of_a, f"turbo-{of_b[:8]}": of_b}
    for folder in (b, a, b):  # and that is all: no more names, however often
        meet(folder, stick, plans=True)
    assert [plan_names(one) for one in (b, stick)] == settled[1:]
    assert plan_names(a) == settled[2]
    for folder in pair:
        sound(folder)


def test_a_plan_on_an_entry_of_the_other_side(pair):
    """Its base comes in with the entries, in the same sync."""
    a, b, stick = pair
    write(a, "a", {"car.toml": CAR.replace("9.2", "8.8")})
    made = plan(a, "turbo", "8.0")
    write(b, "b", {"faults/b.toml": "format = 1\n"})
    meet(a, stick, plans=True)
    done = meet(b, stick, plans=True)
    assert (done.state, plan_names(b)) == ("joined", {"turbo": made})
    sound(b)


def test_what_is_no_plan_is_not_taken(pair):
    a, _, stick = pair
    git(stick, "update-ref", "refs/heads/plan/alone", root := orphan(stick))
    git(stick, "update-ref", "refs/heads/plan/latest", "main")
    git(stick, "update-ref", "refs/heads/plan/pull", changes_a_pull(stick))
    before = names(a)
    refused = meet(a, stick, plans=True).names.refused
    assert "does not follow an entry" in refused["plan:alone"]
    assert "already means something else" in refused["plan:latest"]
    assert "dyno/2026-01-07-baseline/pull-1.csv" in refused["plan:pull"]
    assert names(a) == before
    assert "missing" in git(a, "cat-file", "--batch-check", given=root.encode())


def orphan(folder):
    tree = git(folder, "rev-parse", "main^{tree}").strip()
    return git(folder, "commit-tree", "-m", "x", tree).strip()


def changes_a_pull(folder):
    git(folder, "rm", "-q", "--cached", "dyno/2026-01-07-baseline/pull-1.csv")
    tree = git(folder, "write-tree").strip()
    git(folder, "read-tree", "main")
    return git(folder, "commit-tree", "-m", "x", "-p", "main", tree).strip()


def test_a_dry_run_tells_the_names_and_sets_none(pair):
    a, _, stick = pair
    hand_over(a, 1)
    plan(a, "turbo", "8.0")
    before = names(stick)
    done = meet(a, stick, undecided, dry_run=True, plans=True)
    assert done.names.sent == ["handover/1", "plan:turbo"]
    assert names(stick) == before


def test_a_name_moved_between_looking_and_setting_is_told(pair, monkeypatch):
    a, b, stick = pair
    hand_over(a, 1)
    from buildlog.store.exchange.remote import remote
    from buildlog.store.exchange.two_copies import sync

    with Ledger.open(a) as ledger:
        side = remote(str(stick))
        push = side.push

        def slow(repo, moves):
            hand_over(b, 1, "first")
            meet(b, stick)
            return push(repo, moves)

        monkeypatch.setattr(side, "push", slow)
        done = sync(ledger, side, undecided)
    assert done.names.refused == {"handover/1": "was not set: moved on meanwhile"}
    assert tags(stick)["refs/tags/handover/1"] == tags(b)["refs/tags/handover/1"]
