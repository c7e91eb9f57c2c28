"""A shop's place with everything that the commands that write need, and those commands."""

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


def prepared(place: Path) -> Path:
    """`car` with entries and edits waiting, its `copy` with an entry of its own, a package."""
    place.mkdir()
    (place / "note.txt").write_text("boost gauge: 7 psi\n")
    done(place, "new", "car", "--name", "Marrow Tern", "--year", "1994")
    car = place / "car"
    done(car, "record", "-m", "as found", "--odometer", "88000 mi")
    done(car, "set", "engine.bore=90.2 mm")
    done(car, "record", "-m", "bored", "--odometer", "88100 mi", "--stage", "stage-1")
    done(car, "plan", "new", "cam")
    done(car, "sync", str(place / "copy"))
    done(place / "copy", "attach", str(place / "note.txt"))
    done(place / "copy", "record", "-m", "a note", "--odometer", "88200 mi")
    done(car, "handover", "--no-pdf", "--to", "R. Holloway", str(place / "given"))
    done(with_outside(place), "attach", "--personal", str(place / "note.txt"), "--folder", "kept")
    done(car, "record", "-m", "kept", "--odometer", "unknown")
    done(car, "set", "engine.compression_ratio=9.6")
    rows = [f"{n},{n / 50:.2f}" for n in range(2500, 6500, 50)]
    (place / "pull.csv").write_text("\n".join(["n [1/min],P [kW]", *rows, ""]))
    return place


def with_outside(place: Path) -> Path:
    """The car of a world whose files outside lie in the world, too."""
    os.environ["BUILDLOG_OUTSIDE"] = str(place / "outside")
    return place / "car"


# name -> what is called where, and again by whoever starts anew after a death.
ACTS: dict[str, Callable[[Path], tuple[Path, list[str]]]] = {
    "new": lambda at: (at, ["new", "another", "--name", "Marrow Wren"]),
    "set": lambda at: (at / "car", ["set", "engine.bore=91 mm"]),
    "record": lambda at: (at / "car", ["record", "-m", "raised", "--odometer", "88400 mi",
                                       "--stage", "stage-2"]),
    "plan": lambda at: (at / "car", ["plan", "set", "cam", "engine.bore=92 mm"]),
    "attach": lambda at: (at / "car", ["attach", str(at / "note.txt")]),
    "work": lambda at: (at / "car", ["work", "add", "paint", "--note", "two coats"]),
    "fault": lambda at: (at / "car", ["fault", "add", "belt squeals"]),
    "sync": lambda at: (at / "car", ["sync", str(at / "copy")]),
    "receive": lambda at: (at, ["receive", str(at / "given.zip"), "next"]),
    "handover": lambda at: (at / "car", ["handover", "--no-pdf", "--to", "S. Marsh",
                                           str(at / "out")]),
    "pack": lambda at: (at / "car", ["pack"]),
    "dyno": lambda at: (at / "car", ["dyno", "add", str(at / "pull.csv"), "--session", "run",
                                     "--gear", "4"]),
    "checklist": lambda at: (at / "car", ["checklist", "start", "intake"]),
    "torque": lambda at: (at / "car", ["torque", "add", "flange", "--count", "4", "--torque",
                                       "22 N*m"]),
    "outside": lambda at: (with_outside(at), ["attach", "--outside", str(at / "pull.csv")]),
    "redact": lambda at: (with_outside(at), ["redact", "kept/note.txt", "--asked-by", "the owner",
                                       "--why", "private"]),
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
