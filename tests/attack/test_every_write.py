"""Every command that writes, killed and failed at every call that changes the disk.

The method is a general one (fail the k-th call, for every k; SQLite's page on its tests, opened).
After it nothing that was recorded is missing, `verify` finds nothing altered, the same command
works when it is called again, and no draft or lock file stays.
"""

from __future__ import annotations

import errno
import gc
import os
import shutil
import signal
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from buildlog.store.verify.verdict import verify_folder
from tests.attack.worlds import ACTS, call, copied, entries, forked, left_behind, prepared
from tests.store.test_ledger_crash import KthCall

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork and SIGKILL")
MOST, MOST_OF_LONG = 8, 4  # points of a command that the short set tries; of one of seconds
TAKEN = ("is there already", "is not an empty folder")  # it was finished before the death


@pytest.fixture(autouse=True)
def _outside_as_before(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BUILDLOG_OUTSIDE", "")  # what an act sets is taken back


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    memory = Path("/dev/shm")
    where = memory if os.access(memory, os.W_OK) else tmp_path_factory.mktemp("attack")
    with tempfile.TemporaryDirectory(dir=where) as folder:
        yield prepared(Path(folder) / "world")


def calls_of(world: Path, act: str) -> int:
    place = copied(world, "counted")
    with pytest.MonkeyPatch.context() as patch:
        counter = KthCall(patch)
        at, arguments = ACTS[act](place)
        assert call(at, *arguments).status == 0
    shutil.rmtree(place)
    return int(counter.count)


def check(place: Path, act: str, before: dict[str, list[str]]) -> str:
    """Whether it stands; everything that may never be is asserted away."""
    at, arguments = ACTS[act](place)
    for name, had in before.items():
        assert set(had) <= set(entries(place / name)), (act, name, "an entry is lost")
    again = call(at, *arguments)
    finished = again.status != 0
    if finished:
        told = [*TAKEN, "nothing has changed", "is already entry", "in the session already",
                "is begun and not finished"]  # fmt: skip
        assert any(word in again.err for word in told), (act, again)
    for name in before:
        assert verify_folder(place / name).verdict == "consistent", (act, name)
        said = call(place / name, "history")
        assert said.status == 0, said
    assert left_behind(place) == [], (act, left_behind(place))
    return "stood" if finished else "done again"


def points(count: int, whole: bool) -> list[int]:
    step = 1 if whole else max(1, count // (MOST if count < 200 else MOST_OF_LONG))
    return [*range(1, count + 1, step)]


def killed(place: Path, act: str, k: int) -> None:
    def child() -> None:
        KthCall(pytest.MonkeyPatch(), k, lambda: os.kill(os.getpid(), signal.SIGKILL))
        at, arguments = ACTS[act](place)
        call(at, *arguments)

    assert os.WIFSIGNALED(forked(child))


def failed(code: int) -> Callable[[Path, str, int], None]:
    def full() -> None:
        raise OSError(code, os.strerror(code))

    def fail(place: Path, act: str, k: int) -> None:
        with pytest.MonkeyPatch.context() as patch:
            KthCall(patch, k, full)
            at, arguments = ACTS[act](place)
            said = call(at, *arguments)
        assert said.status in (0, 7), (act, k, said)
        assert "Traceback" not in said.err

    return fail


HARMS: dict[str, Callable[[Path, str, int], None]] = {
    "killed": killed, "disk full": failed(errno.ENOSPC), "disk fault": failed(errno.EIO),
}  # fmt: skip


# By default a disk fails in one way only, being full, and not while a handover is made.
CUTS = [
    pytest.param(act, harm, marks=[pytest.mark.long] * (harm in slow))
    for act in ACTS
    for slow in [{"disk full", "disk fault"} if act == "handover" else {"disk fault"}]
    for harm in HARMS
]


# Where the disk fails as the git library ends a file, it leaves the file to the collector.
@pytest.mark.filterwarnings("ignore:unclosed:ResourceWarning")
@pytest.mark.parametrize("whole", [False, pytest.param(True, marks=pytest.mark.long)])
@pytest.mark.parametrize(("act", "harm"), CUTS)
def test_a_command_cut_short(world: Path, act: str, harm: str, whole: bool) -> None:
    before = {name: entries(world / name) for name in ("car", "copy")}
    states: Counter[str] = Counter()
    count = calls_of(world, act)
    for k in points(count, whole):
        place = copied(world, f"{act}-{k}")
        HARMS[harm](place, act, k)
        states[check(place, act, before)] += 1
        shutil.rmtree(place)
    gc.collect()  # here, where it is allowed
    print(act, harm, count, "calls:", dict(states))
    assert states.total() == len(points(count, whole))
