"""`shop list` where its index cannot be kept, and what one changed ledger costs."""

from __future__ import annotations

import json
import os
import resource
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from buildlog.store.git.repo import Repo
from tests.conftest import Call
from tests.histories import git, usual

ROOT = Path(__file__).parents[2]
# Root may write everywhere; without its powers it is held to what a file's owner may do.
POWERLESS = ["setpriv", "--inh-caps=-all", "--bounding-set=-all"] if os.geteuid() == 0 else []


@pytest.fixture
def shop() -> Iterator[Path]:
    """Three cars below a folder that everybody may read, beside a folder for the index."""
    with tempfile.TemporaryDirectory() as folder:
        os.chmod(folder, 0o755)
        for number in range(3):
            usual(Path(folder) / "shop" / f"car-{number}").close()
        (Path(folder) / "cache").mkdir()
        yield Path(folder)


def listed(shop: Path, *before: str, **more: Any) -> tuple[int, str, str]:
    """What a process of its own says of the shop."""
    own = {"PYTHONDONTWRITEBYTECODE": "1", "BUILDLOG_CACHE": str(shop / "cache"), "HOME": str(shop)}
    done = subprocess.run(
        [*before, sys.executable, "-m", "buildlog", "shop", "list", str(shop / "shop"), "--json"],
        cwd=ROOT, capture_output=True, text=True, check=False,
        env={**os.environ, **own}, **more,
    )  # fmt: skip
    return done.returncode, done.stdout, done.stderr


def at_most(size: int) -> Callable[[], None]:
    """No file may grow beyond this: what a full disk says to whoever writes."""
    return lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))


@pytest.mark.parametrize(
    "size", [0, *(pytest.param(n, marks=pytest.mark.long) for n in (4096, 20_000))]
)
@pytest.mark.long
def test_the_same_answer_on_a_full_disk(shop: Path, size: int) -> None:
    status, _, problem = listed(shop, preexec_fn=at_most(size))
    assert (status, problem) == (0, "")
    full = listed(shop, preexec_fn=at_most(size))
    shutil.rmtree(shop / "cache")
    assert full == listed(shop)
    index = next((shop / "cache").glob("index-*.sqlite"))
    assert index.stat().st_size > 0
    assert listed(shop, preexec_fn=at_most(size)) == full  # full from now on


@pytest.mark.skipif(
    bool(POWERLESS) and shutil.which("setpriv") is None,
    reason="root without setpriv (util-linux): nothing can be made read-only for it",
)
@pytest.mark.long
def test_the_same_answer_where_the_index_may_not_be_written(shop: Path) -> None:
    whole = listed(shop)
    assert whole[0] == 0
    for place in [*(shop / "cache").iterdir(), shop / "cache"]:
        place.chmod(0o555 if place.is_dir() else 0o444)
    before = [place.stat().st_mtime_ns for place in (shop / "cache").iterdir()]
    assert listed(shop, *POWERLESS) == whole
    git(shop / "shop/car-1", "commit", "-q", "--allow-empty", "-m", "by plain git")
    status, out, problem = listed(shop, *POWERLESS)
    assert (status, problem) == (0, "")
    heads = {car["ledger"]: car["head"] for car in json.loads(out)["cars"]}
    assert heads["car-1"] == git(shop / "shop/car-1", "rev-parse", "main").strip()
    assert [place.stat().st_mtime_ns for place in (shop / "cache").iterdir()] == before


def test_one_changed_ledger_costs_what_it_costs_alone(
    shop: Path, buildlog: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Counted in objects that are read, as the disk has to bring them."""
    read: list[str] = []
    real = Repo._read

    def counted(self: Repo, name: str, *rest: Any) -> Any:
        read.append(str(self.git))
        return real(self, name, *rest)

    def ask(cache: str) -> list[str]:
        monkeypatch.setenv("BUILDLOG_CACHE", str(shop / cache))
        read.clear()
        assert buildlog("shop", "list", shop / "shop").status == 0
        return list(read)

    monkeypatch.setattr(Repo, "_read", counted)
    cold = ask("cache")
    assert ask("cache") == []
    git(shop / "shop/car-1", "commit", "-q", "--allow-empty", "-m", "by plain git")
    after = ask("cache")
    own = str(shop / "shop/car-1/.git")
    assert set(after) == {own}
    assert after == [one for one in ask("another") if one == own]
    assert len(after) < len(cold) / 2
