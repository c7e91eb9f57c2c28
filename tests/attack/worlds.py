"""The command line in a place, and what is left of a place after something broke."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from io import StringIO
from pathlib import Path

from tests.histories import git


@dataclass(frozen=True)
class Said:
    """What one call of the command line left behind."""

    status: int
    out: str
    err: str

    @property
    def last(self) -> str:
        return (self.err or self.out).strip().split("\n")[-1]


def call(place: Path, *arguments: str) -> Said:
    """A command in this process, in a folder."""
    from buildlog.cli.main import run

    out, err, before = StringIO(), StringIO(), Path.cwd()
    os.chdir(place)
    try:
        with redirect_stdout(out), redirect_stderr(err):
            run(list(arguments))
        status = 0
    except SystemExit as stopped:
        status = stopped.code if isinstance(stopped.code, int) else 1
    finally:
        os.chdir(before)
    return Said(status, out.getvalue(), err.getvalue())


def done(place: Path, *arguments: str) -> str:
    """A command that has to succeed."""
    said = call(place, *arguments)
    assert said.status == 0, (arguments, said)
    return said.out


def at_home_in(place: Path) -> None:
    """Everything that a user has beside his ledgers lies in the place, too."""
    os.environ |= {
        "BUILDLOG_OUTSIDE": str(place / "outside"), "BUILDLOG_CACHE": str(place / "cache"),
        "BUILDLOG_CONFIG": str(place / "settings.toml"), "XDG_STATE_HOME": str(place / "state"),
    }  # fmt: skip


def entries(folder: Path) -> list[str]:
    """The ids on `main`, as plain git lists them."""
    try:
        return git(folder, "rev-list", "main").split()
    except subprocess.CalledProcessError:
        return []


def left_behind(place: Path) -> list[str]:
    """Drafts and lock files: what nobody may have to remove by hand."""
    names = [path for path in place.rglob("*") if path.suffix in (".lock", ".part", ".keep")]
    return [str(path.relative_to(place)) for path in names if path.name != "buildlog.lock"]


def copied(place: Path, name: str) -> Path:
    target = place.with_name(name)
    shutil.rmtree(target, ignore_errors=True)
    return Path(shutil.copytree(place, target))


def forked(work: Callable[[], None]) -> int:
    """Do something in a child; its wait status. What it says goes nowhere."""
    child = os.fork()
    if child == 0:
        try:
            work()
            os._exit(0)
        except BaseException:
            os._exit(1)
    _, status = os.waitpid(child, 0)
    sys.stdout.flush()
    return status
