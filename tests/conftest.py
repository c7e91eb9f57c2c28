"""What every test shares: a pinned world, the demo's ledger, and the command line in process."""

from __future__ import annotations

import os
import shutil
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import count
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

ROOT = Path(__file__).parents[1]
os.environ["OPENBLAS_NUM_THREADS"] = "1"  # before numpy is loaded; its threads only wait
sys.path.insert(0, str(ROOT))  # makes `tests.builders` importable wherever pytest was started
FORCE = os.fsync
NUMBERS = count()

# The same examples every time, so that a run can be repeated, and no clock that judges: `explore`
# draws others, from `--hypothesis-seed`; CI takes a seed from each commit.
settings.register_profile(
    "steady", deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True,
    print_blob=True,
)  # fmt: skip
settings.register_profile("explore", settings.get_profile("steady"), derandomize=False)


def pytest_configure(config: pytest.Config) -> None:
    settings.load_profile(config.getoption("--hypothesis-profile") or "steady")


@pytest.hookimpl(tryfirst=True)  # before the marks choose what is run
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Of a test marked `one_in(n)` every nth case stays in the default set, the rest is long."""
    seen: Counter[str] = Counter()
    for item in items:
        if (mark := item.get_closest_marker("one_in")) is not None:
            test = item.nodeid.partition("[")[0]
            if seen[test] % mark.args[0]:
                item.add_marker(pytest.mark.long)
            seen[test] += 1


# Nothing of the machine may decide what a test sees: language, clock's zone, git, settings, the
# user's own folder.
PINNED = {
    "LC_ALL": "C.UTF-8",
    "LANG": "C.UTF-8",
    "TZ": "UTC",
    "GIT_CONFIG_GLOBAL": os.devnull,
    "GIT_CONFIG_NOSYSTEM": "1",
    "PYTHONHASHSEED": "0",
    "COLUMNS": "100",
}
# Names that begin so. The last would have each process that a test starts compile the program.
UNSET = ("BUILDLOG_", "GIT_", "LC_", "LANGUAGE", "MPL", "NO_COLOR", "XDG_",
         "PYTHONDONTWRITEBYTECODE")  # fmt: skip
WHO = "[user]\n\tname = Robin Holloway\n\temail = robin@quarrylane.invalid\n"


@pytest.fixture(scope="session", autouse=True)
def pinned(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Pin the environment for the whole run; the user's own settings and cache stay out."""
    place = tmp_path_factory.mktemp("user")
    with pytest.MonkeyPatch.context() as patch:
        pin(patch, place)
        (place / "home/.gitconfig").write_text(WHO)
        patch.setattr(os, "fsync", os.fstat)  # refuses what is no handle, and waits for no disk
        _read_the_zone()
        yield place
    _read_the_zone()


@pytest.fixture
def forced(monkeypatch: pytest.MonkeyPatch) -> None:
    """Files are forced to the real disk, as they are outside the tests."""
    monkeypatch.setattr(os, "fsync", FORCE)


@pytest.fixture(autouse=True)
def nothing_said_before(pinned: Path) -> Iterator[None]:
    """No test knows what another said of a raw file's columns, of the shop or of its dynos, nor
    in which units it was spoken to."""
    from buildlog.report.numbers import SPOKEN

    SPOKEN.set(None)
    Path(os.environ["BUILDLOG_CONFIG"]).with_name("raw-files.toml").unlink(missing_ok=True)
    (pinned / "settings.toml").unlink(missing_ok=True)
    with pytest.MonkeyPatch.context() as patch:  # of its own: a test may undo what it patched
        if "XDG_STATE_HOME" not in os.environ:  # a page that several tests look at keeps its own
            patch.setenv("XDG_STATE_HOME", str(pinned / f"state-{next(NUMBERS)}"))
        yield


def _read_the_zone() -> None:
    """The C library looks at TZ once, unless it is told to look again."""
    if hasattr(time, "tzset"):  # not on Windows
        time.tzset()


def pin(patch: pytest.MonkeyPatch, place: Path) -> None:
    """The pinned environment of a user whose home, settings and cache lie in `place`."""
    for name in [name for name in os.environ if name.startswith(UNSET)]:
        patch.delenv(name)
    for name, value in PINNED.items():
        patch.setenv(name, value)
    (place / "home").mkdir(exist_ok=True)
    patch.setenv("HOME", str(place / "home"))
    patch.setenv("BUILDLOG_CONFIG", str(place / "settings.toml"))
    patch.setenv("BUILDLOG_CACHE", str(place / "cache"))


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
    from buildlog.report.numbers import SPOKEN

    def call(*arguments: str | Path, at: Path | None = None) -> Outcome:
        if at is not None:
            monkeypatch.chdir(at)
        capsys.readouterr()
        SPOKEN.set(None)  # each command is a process of its own
        with pytest.raises(SystemExit) as ended:
            run([str(argument) for argument in arguments])
        printed = capsys.readouterr()
        return Outcome(int(ended.value.code or 0), printed.out, printed.err)

    return call
