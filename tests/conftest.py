"""What every test shares: a pinned world, the demo's ledger, and the command line in process."""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))  # makes `tests.builders` importable wherever pytest was started

# Nothing of the machine may decide what a test sees: language, clock's zone, git, settings.
PINNED = {
    "LC_ALL": "C.UTF-8",
    "LANG": "C.UTF-8",
    "TZ": "UTC",
    "GIT_CONFIG_GLOBAL": os.devnull,
    "GIT_CONFIG_NOSYSTEM": "1",
    "PYTHONHASHSEED": "0",
    "COLUMNS": "100",
}
UNSET = ("BUILDLOG_LEDGER", "BUILDLOG_DEBUG", "NO_COLOR", "GIT_DIR", "GIT_WORK_TREE")


@pytest.fixture(scope="session", autouse=True)
def pinned(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Pin the environment for the whole run; the user's own settings and cache stay out."""
    settings = tmp_path_factory.mktemp("settings") / "settings.toml"
    with pytest.MonkeyPatch.context() as patch:
        for name in UNSET:
            patch.delenv(name, raising=False)
        for name, value in PINNED.items():
            patch.setenv(name, value)
        patch.setenv("BUILDLOG_CONFIG", str(settings))
        patch.setenv("BUILDLOG_CACHE", str(tmp_path_factory.mktemp("cache")))
        yield


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's ledger, replayed once. For reading only: `demo_copy` is for tests that write."""
    from buildlog.desk.acts.replay import demo_source, replay

    folder = tmp_path_factory.mktemp("demo") / "ledger"
    replay(demo_source(), folder)
    return folder


@pytest.fixture
def demo_copy(demo: Path, tmp_path: Path) -> Path:
    """A copy of the demo's ledger to write in."""
    return Path(shutil.copytree(demo, tmp_path / "ledger"))


@dataclass(frozen=True)
class Outcome:
    """What a call of the command line left behind."""

    status: int
    out: str
    err: str


Call = Callable[..., Outcome]


@pytest.fixture
def buildlog(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Call:
    """The command line in this process: `buildlog("diff", "--json", at=folder)`."""
    from buildlog.cli.main import run

    def call(*arguments: str | Path, at: Path | None = None) -> Outcome:
        if at is not None:
            monkeypatch.chdir(at)
        capsys.readouterr()
        with pytest.raises(SystemExit) as ended:
            run([str(argument) for argument in arguments])
        printed = capsys.readouterr()
        return Outcome(int(ended.value.code or 0), printed.out, printed.err)

    return call
