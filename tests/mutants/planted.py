"""Faults planted by hand: `python -m tests.mutants.planted [WORD...]`; the table is beside it.

Each is put into a temporary copy of the project by itself, and the tests named for it must fail.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import tomllib
from dataclasses import dataclass
from pathlib import Path

from tests.mutants.run import HERE, copied


@dataclass(frozen=True)
class PlantedFault:
    """Text of a product file, what stands there instead, and the tests that notice."""

    name: str
    file: str
    old: str
    new: str
    tests: tuple[str, ...]


def faults() -> list[PlantedFault]:
    """The table."""
    table = tomllib.loads((HERE / "planted.toml").read_text("utf-8"))["fault"]
    return [PlantedFault(**{**one, "tests": tuple(one["tests"])}) for one in table]


def pytest_in(place: Path, tests: tuple[str, ...]) -> subprocess.CompletedProcess[str]:
    """pytest in a copy: its status is 0 if all passed, 1 if one failed, else it did not run."""
    command = [sys.executable, "-B", "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", *tests]
    return subprocess.run(command, cwd=place, capture_output=True, text=True, check=False)


def noticed(fault: PlantedFault, place: Path) -> bool:
    """Whether its tests fail while it is planted."""
    file = place / fault.file
    whole = file.read_bytes()
    file.write_bytes(whole.replace(fault.old.encode(), fault.new.encode()))
    try:
        return pytest_in(place, fault.tests).returncode == 1
    finally:
        file.write_bytes(whole)


def main() -> int:
    words = sys.argv[1:]
    chosen = [one for one in faults() if not words or any(word in one.name for word in words)]
    unnoticed = 0
    with tempfile.TemporaryDirectory(prefix="planted-") as folder:
        copied(Path(folder))
        tests = tuple(dict.fromkeys(test for one in chosen for test in one.tests))
        whole = pytest_in(Path(folder), tests)
        if whole.returncode:
            print(f"the tests fail without any fault\n{whole.stdout[-2000:]}", file=sys.stderr)
            return 2
        for one in chosen:
            found = noticed(one, Path(folder))
            unnoticed += not found
            print(f"{'noticed' if found else 'NOT NOTICED'}: {one.name}", flush=True)
    return int(unnoticed > 0)


if __name__ == "__main__":
    raise SystemExit(main())
