"""Kills and disk faults in the middle of a sync and of a key's rotation: old state or new.

The same method as for an entry: at every k-th call that changes the disk.
"""

from __future__ import annotations

import errno
import os
import shutil
import signal
from collections import Counter

import pytest

from buildlog.errors import DiskError, TrustError
from buildlog.store.exchange.remote import remote
from buildlog.store.exchange.two_copies import sync
from buildlog.store.ledger import key_events
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.verify.verdict import Outside, verify_folder
from tests.histories import CAR, git, next_recorder, usual
from tests.signing import key, needs_ssh_keygen
from tests.store.test_ledger_crash import KthCall, drain, in_child, tail
from tests.store.test_sync import meet, tip, write
from tests.store.test_sync_names import hand_over, names, plan

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork and SIGKILL")


NAMES = {
    "refs/heads/main", "refs/heads/plan/turbo-a", "refs/heads/plan/turbo-b",
    "refs/tags/handover/1", "refs/tags/handover/2", "refs/tags/stage/stage-1",
}  # fmt: skip


def run_sync(place):
    with Ledger.open(place / "b") as ledger:
        sync(ledger, remote(str(place / "stick")), lambda questions: {}, plans=True)


@pytest.fixture
def apart(tmp_path):
    """A stick with a's week on it, and b with a week of its own; a handover and a plan on each."""
    place = tmp_path / "apart"
    usual(place / "a").close()
    meet(place / "a", place / "stick")
    shutil.copytree(place / "stick", place / "b")
    write(
        place / "a", "a", {"car.toml": CAR.replace("9.2", "8.5"), "faults/a.toml": "format = 1\n"}
    )
    new = CAR.replace("9.2", "9.0").replace("84.0 mm", "84.5 mm")
    write(place / "b", "b", {"car.toml": new, "faults/b.toml": "format = 1\n"})
    for side, number in (("a", 1), ("b", 2)):
        hand_over(place / side, number)
        plan(place / side, f"turbo-{side}", "8.0")
    meet(place / "a", place / "stick", plans=True)
    return place


def check_after_sync(place, before):
    """Nothing is lost on any side, and the next sync ends at one state. Whether b was joined."""
    joined = tip(place / "b") != before["b"]
    for side, old in before.items():
        git(place / side, "merge-base", "--is-ancestor", old, "main")
    run_sync(place)
    meet(place / "a", place / "stick", plans=True)
    assert names(place / "a") == names(place / "b") == names(place / "stick")
    assert names(place / "a").keys() >= NAMES
    for side in before:
        folder = place / side
        assert tail(folder) == []
        assert git(folder, "status", "--porcelain") == ""
        assert git(folder, "fsck", "--full", "--strict", "--no-dangling") == ""
        assert verify_folder(folder).verdict == "consistent"
        assert {"a.toml", "b.toml"} <= set(os.listdir(folder / "faults"))
        text = (folder / "car.toml").read_text()
        assert "8.5" in text
        assert "84.5 mm" in text
    return joined


def count_calls(work, place):
    with pytest.MonkeyPatch.context() as patch:
        counter = KthCall(patch)
        work(place)
    return counter.count


def at_every_call(work, prepared, check, step, what):
    """Do `work` on fresh copies, with a kill or an error at every `step`-th call."""
    counted = prepared.with_name("counted")
    shutil.copytree(prepared, counted)
    calls = count_calls(work, counted)
    before = {side.name: tip(side) for side in prepared.iterdir() if (side / ".git").exists()}
    states = Counter()
    for k in range(1, calls + 1, step):
        place = prepared.with_name(f"at-{k}")
        shutil.copytree(prepared, place)
        what(work, place, k)
        states[check(place, before)] += 1
        shutil.rmtree(place)
    print(calls, "calls:", dict(states))
    return states


def killed(work, place, k):
    def child(write_):
        KthCall(pytest.MonkeyPatch(), k, lambda: os.kill(os.getpid(), signal.SIGKILL))
        work(place)

    process, reader = in_child(child)
    assert drain(reader) == ""
    assert os.WIFSIGNALED(os.waitpid(process, 0)[1])


def failed(work, place, k):
    def full():
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with pytest.MonkeyPatch.context() as patch:
        KthCall(patch, k, full)
        try:
            work(place)
        except DiskError as error:
            assert error.hint  # noqa: PT017 - an error is allowed here, not demanded


@pytest.mark.parametrize("what", [killed, failed])
@pytest.mark.long
def test_a_sync_cut_short_at_every_9th_call(apart, what):
    states = at_every_call(run_sync, apart, check_after_sync, 9, what)
    assert set(states) == {False, True}


@pytest.mark.long
@pytest.mark.parametrize("what", [killed, failed])
def test_a_sync_cut_short_at_every_call(apart, what):
    states = at_every_call(run_sync, apart, check_after_sync, 1, what)
    assert min(states[False], states[True]) > 5


@pytest.fixture
def signed(tmp_path):
    place = tmp_path / "signed"
    with usual(place / "car") as ledger:
        key_events.add(ledger, next_recorder(ledger), key(place, "a"), "bench 1")
    key(place, "b")
    return place


def rotate(place):
    with Ledger.open(place / "car") as ledger:
        key_events.rotate(
            ledger, next_recorder(ledger), key(place, "a"), key(place, "b"), "bench 2"
        )


def check_after_rotation(place, before):
    done = tip(place / "car") != before["car"]
    if done:
        with pytest.raises(TrustError, match="cannot be entered"):
            rotate(place)
    else:
        rotate(place)
    known = {key(place, "a").key.text: "bench 1"}
    found = verify_folder(place / "car", Outside(known))
    assert found.verdict == "intact", found.findings
    with Ledger.open(place / "car") as ledger:
        ring = key_events.judged(ledger).ring
        assert list(ring.active.values()) == ["bench 2"]
    return done


@needs_ssh_keygen
@pytest.mark.parametrize(("what", "step"), [(killed, 3), (failed, 3)])
def test_a_rotation_cut_short(signed, what, step):
    states = at_every_call(rotate, signed, check_after_rotation, step, what)
    assert set(states) == {False, True}


@needs_ssh_keygen
@pytest.mark.long
@pytest.mark.parametrize("what", [killed, failed])
def test_a_rotation_cut_short_at_every_call(signed, what):
    states = at_every_call(rotate, signed, check_after_rotation, 1, what)
    assert set(states) == {False, True}
