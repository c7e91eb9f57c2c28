"""Every command that writes, killed and failed at every call that changes the disk.

The method is a general one (fail the k-th call, for every k; SQLite's page on its tests, opened).
After it nothing that was recorded is missing, `verify` finds nothing altered, no record is torn,
the same command works when it is called again, an act of the page has happened exactly once, and
no draft or lock file stays. `python -m tests.benchmarks.count_attacks` prints the whole as a table.
"""

from __future__ import annotations

import gc
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path

import click
import pytest

from buildlog.cli.main import cli
from tests.attack.acts import Act
from tests.attack.cuts import EVERY, HARMS, Cuts
from tests.attack.prepared_world import prepared
from tests.attack.taps import TAPS, Tap, kinds
from tests.store.test_ledger_crash import KthCall

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork and SIGKILL")
# What only looks; `verify` stands among the acts, because it notes that it ran.
READS = {
    "history", "show", "dyno compare", "dyno relate", "dyno coast", "predict", "plan compare",
    "plan list", "plan show", "margins", "headroom", "explain", "next", "checklist list",
    "checklist show", "torque list", "torque show", "fault list", "waiting list", "due list",
    "key list", "schema", "completion",
}  # fmt: skip
SLOW = 25  # calls of one that takes a second which the whole set tries


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    memory = Path("/dev/shm")
    where = memory if os.access(memory, os.W_OK) else tmp_path_factory.mktemp("attack")
    with pytest.MonkeyPatch.context() as patch, tempfile.TemporaryDirectory(dir=where) as folder:
        for name in ("BUILDLOG_OUTSIDE", "BUILDLOG_CONFIG", "BUILDLOG_CACHE"):
            patch.setenv(name, os.environ.get(name, ""))  # what an act sets is taken back
        patch.setenv("XDG_STATE_HOME", folder)
        yield prepared(Path(folder) / "world")


def leaves(group: click.Group, before: str = "") -> Iterator[str]:
    context = click.Context(group)
    for name in group.list_commands(context):
        found = group.get_command(context, name)
        if isinstance(found, click.Group):
            yield from leaves(found, f"{before}{name} ")
        else:
            yield before + name


def test_no_command_that_writes_is_forgotten() -> None:
    """One that is new is attacked, or stands among those that only look, which is tried below."""
    attacked = {act.command for act in EVERY}
    assert attacked | READS == set(leaves(cli))
    assert not attacked & READS
    assert {tap.kind for tap in TAPS} == kinds()
    assert len({act.name for act in EVERY}) == len(EVERY)


LOOKS = {
    "dyno compare": "baseline again", "dyno relate": "R1 R1", "predict": "first latest",
    "plan compare": "cam head", "plan show": "cam", "explain": "margin", "schema": "car",
    "checklist show": "intake", "torque show": "head", "completion": "bash",
    "dyno coast": "{at}/run-1.csv",
}  # fmt: skip


@pytest.mark.parametrize("command", sorted(READS))
def test_what_only_looks_changes_nothing_on_the_disk(
    world: Path, command: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    at = "car" if command.startswith("torque") else "tern"
    monkeypatch.setenv("BUILDLOG_CACHE", os.devnull)  # the index is no part of a ledger
    before = {path: path.stat().st_mtime_ns for path in (world / at).rglob("*")}
    counted = KthCall(monkeypatch)
    Act(command, LOOKS.get(command, ""), at).run(world)
    assert before == {path: path.stat().st_mtime_ns for path in (world / at).rglob("*")}
    assert counted.count >= 0


# Where the disk fails as the git library ends a file, it leaves the file to the collector.
@pytest.mark.filterwarnings("ignore:unclosed:ResourceWarning")
@pytest.mark.parametrize("act", EVERY, ids=lambda one: one.name)
@pytest.mark.one_in(6)
def test_a_command_cut_short(world: Path, act: Act | Tap) -> None:
    """A sample by default: three calls are cut short, each in another way."""
    if act.slow:
        pytest.skip("takes a second each time: only the long set cuts it short")
    cuts = Cuts(world, act)
    for harm, k in zip(HARMS, cuts.points(5)[1:4], strict=False):
        cuts.cut(harm, k)
    gc.collect()  # here, where it is allowed


@pytest.mark.long
@pytest.mark.filterwarnings("ignore:unclosed:ResourceWarning")
@pytest.mark.parametrize("harm", HARMS)
@pytest.mark.parametrize("act", EVERY, ids=lambda one: one.name)
def test_a_command_cut_short_at_every_call(world: Path, act: Act | Tap, harm: str) -> None:
    cuts = Cuts(world, act)
    for k in cuts.points(SLOW if act.slow else cuts.calls):
        cuts.cut(harm, k)
    gc.collect()
