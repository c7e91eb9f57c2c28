"""The power is cut at every call of every command that writes: nothing reported is lost."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.attack.acts import ACTS, Act
from tests.attack.cuts import EVERY
from tests.attack.power import Disk, Powercuts
from tests.attack.prepared_world import prepared
from tests.attack.taps import Tap

pytestmark = pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="reads /proc")


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    with (
        pytest.MonkeyPatch.context() as patch,
        tempfile.TemporaryDirectory(dir=tmp_path_factory.mktemp("cut")) as folder,
    ):
        for name in ("BUILDLOG_OUTSIDE", "BUILDLOG_CONFIG", "BUILDLOG_CACHE"):
            patch.setenv(name, os.environ.get(name, ""))  # what an act sets is taken back
        patch.setenv("XDG_STATE_HOME", folder)
        yield prepared(Path(folder) / "world")


@pytest.mark.parametrize("act", EVERY, ids=lambda one: one.name)
@pytest.mark.one_in(6)
def test_a_power_cut_loses_nothing_that_was_reported(world: Path, act: Act | Tap) -> None:
    """A sample by default: the moment after it was reported, and one before."""
    if act.slow:
        pytest.skip("takes a second each time: only the long set cuts its power")
    power = Powercuts(world, act)
    for number in power.points(1)[-2:]:
        power.cut(number)


@pytest.mark.long
@pytest.mark.parametrize("act", EVERY, ids=lambda one: one.name)
def test_a_power_cut_at_every_moment(world: Path, act: Act | Tap) -> None:
    power = Powercuts(world, act)
    for number in power.points(25 if act.slow else 1_000):
        power.cut(number)


@pytest.mark.parametrize("name", ["record", "receive", "handover", "attach"])
def test_a_folder_that_is_not_forced_would_be_noticed(
    world: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The model itself: without the calls for folders, what was reported is not on the disk."""
    act = next(one for one in ACTS if one.command == name)
    monkeypatch.setattr(Disk, "_names", lambda *_: None)
    power = Powercuts(world, act)
    with pytest.raises(AssertionError, match=r"lost|not on the disk|records"):
        power.cut(len(power.disk.events) - 1)
