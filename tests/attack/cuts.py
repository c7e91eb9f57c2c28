"""An act cut short at one of its calls that change the disk, and what has to hold afterwards."""

from __future__ import annotations

import errno
import os
import shutil
import signal
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest

from buildlog.store.verify.verdict import verify_folder
from tests.attack.acts import ACTS, Act
from tests.attack.taps import TAPS, Tap
from tests.attack.worlds import call, copied, entries, forked, left_behind
from tests.store.test_ledger_crash import KthCall

EVERY: tuple[Act | Tap, ...] = (*ACTS, *TAPS)
ENDS = {".svg": b"</svg>", ".html": b"</html>", ".ics": b"END:VCALENDAR"}
Files = dict[str, bytes]


def killed(place: Path, act: Act | Tap, k: int) -> None:
    """The process is killed at the k-th call."""

    def child() -> None:
        KthCall(pytest.MonkeyPatch(), k, lambda: os.kill(os.getpid(), signal.SIGKILL))
        act.run(place)

    assert os.WIFSIGNALED(forked(child)), "it ended before"


def failed(code: int) -> Callable[[Path, Act | Tap, int], None]:
    """The k-th call fails with this error."""

    def fault() -> None:
        raise OSError(code, os.strerror(code))

    def fail(place: Path, act: Act | Tap, k: int) -> None:
        with pytest.MonkeyPatch.context() as patch:
            KthCall(patch, k, fault)
            said = act.run(place)
        assert said.status in (0, 7), said
        assert "Traceback" not in said.err

    return fail


HARMS: dict[str, Callable[[Path, Act | Tap, int], None]] = {
    "killed": killed, "disk full": failed(errno.ENOSPC), "disk fault": failed(errno.EIO),
}  # fmt: skip


class Cuts:
    """All that is tried on one act: how many calls it makes, and each of them cut short."""

    def __init__(self, world: Path, act: Act | Tap) -> None:
        self.world, self.act = world, act
        if act.slow:
            act.run(copied(world, "counted"))  # what a process does once and then has
        place = copied(world, "counted")
        act.prepare(place)
        with pytest.MonkeyPatch.context() as patch:
            counter = KthCall(patch)
            said = act.run(place)
        assert said.status == 0, (act.name, said)
        self.calls = int(counter.count)
        self.before = {name: set(entries(world / name)) for name in act.touches}
        self._whole = records(place, act)
        self._was = records(world, act)
        shutil.rmtree(place)

    def points(self, most: int) -> list[int]:
        """So many calls, spread over all of them; the first and the last among them."""
        if self.calls <= most:
            return list(range(1, self.calls + 1))
        step = (self.calls - 1) / (most - 1)
        return sorted({1 + round(step * one) for one in range(most)})

    def cut(self, harm: str, k: int) -> str:
        """Cut it short at one call; "stood" or "done again". AssertionError for what may not be."""
        place = copied(self.world, "cut")
        self.act.prepare(place)
        try:
            HARMS[harm](place, self.act, k)
            return self._judged(place)
        except AssertionError as error:
            raise AssertionError(f"{self.act.name}, {harm} at call {k}: {error}") from error
        finally:
            shutil.rmtree(place)

    def _judged(self, place: Path) -> str:
        act = self.act
        for name, had in self.before.items():
            assert had <= set(entries(place / name)) or act.command == "repair", "an entry is lost"
        self._refuse_torn(place)
        again = act.run(place)
        stood = again.status != 0
        assert not stood or (act.stood and act.stood in again.err), again
        self._refuse_torn(place)
        for name in act.touches:
            found = verify_folder(place / name)
            assert found.verdict == "consistent", (name, found.findings)
            assert call(place / name, "history").status == 0
        if isinstance(act, Tap) and act.command == "serve" and act.kind not in ONCE_EACH:
            assert records(place, act) == self._whole, "not exactly once"
        if isinstance(act, Act) and act.makes:
            assert call(place / act.makes, "history").status == 0
        assert left_behind(place) == [], "left behind"
        return "stood" if stood else "done again"

    def _refuse_torn(self, place: Path) -> None:
        """Each record is as it was, or as it is when nothing is cut short; what is made for
        others is whole or not there."""
        for path, data in records(place, self.act).items():
            if data not in (self._was.get(path), self._whole.get(path)):
                tomllib.loads(data.decode())  # made a second time, or at another second
        for path in place.iterdir():
            end = ENDS.get(path.suffix)
            assert end is None or end in path.read_bytes()[-20:], f"{path.name} is torn"


# Acts that leave other bytes each time: an entry's second, a name in another folder.
ONCE_EACH = frozenset({"record", "approve", "new-car", "link", "quote"})


def records(place: Path, act: Act | Tap) -> Files:
    """The TOML files of the ledgers that an act touches."""
    return {
        f"{name}/{path.relative_to(place / name).as_posix()}": path.read_bytes()
        for name in act.touches
        for path in (place / name).rglob("*.toml")
        if ".git" not in path.parts
    }
