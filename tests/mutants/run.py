"""Mutation runs: `python -m tests.mutants.run FILE... [--sample N] [--seconds S] [--since BASE]`.

mutmut makes the mutants of each file in a temporary copy of the project and runs the nearest
tests (nearest.toml) against them, one process at a time. It does not look inside properties and
other decorated functions, nor at constants: those are for planted.toml and the tests themselves.
"""

from __future__ import annotations

import argparse
import fnmatch
import json
import shutil
import subprocess
import sys
import tempfile
import time
import tomllib
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).parents[2]
HERE = Path(__file__).parent
SEED = 6
ALSO = ["demo_vehicle", "shared", "README.md", "DEVELOPERS.md"]


def nearest(file: str) -> list[str]:
    """The test files for a product file, those that are there."""
    table = tomllib.loads((HERE / "nearest.toml").read_text())
    for pattern, tests in table.items():
        if fnmatch.fnmatch(file, pattern):
            return [test for test in tests if (ROOT / test).exists()]
    own = f"test_{Path(file).stem}.py"
    return [str(path.relative_to(ROOT)) for path in sorted((ROOT / "tests").rglob(own))]


def copied(place: Path) -> None:
    """The files that git keeps, and those that are new, in another place."""
    listed = ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
    done = subprocess.run(listed, cwd=ROOT, capture_output=True, text=True, check=True)
    for name in filter(None, done.stdout.split("\0")):
        if (ROOT / name).is_file():
            (place / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(ROOT / name, place / name)


def mutated(file: str, sample: int, seconds: int, names: list[str]) -> dict[str, object] | None:
    """What became of the mutants of one file; None if its tests fail without any."""
    with tempfile.TemporaryDirectory(prefix="mutants-") as folder:
        place = Path(folder)
        copied(place)
        section = {
            "source_paths": ["buildlog"],
            "only_mutate": [file],
            "also_copy": ALSO,
            "pytest_add_cli_args_test_selection": nearest(file),
            "timeout_multiplier": 4.0,
        }
        with (place / "pyproject.toml").open("a") as project:
            project.write("\n[tool.mutmut]\n")
            project.writelines(f"{key} = {json.dumps(value)}\n" for key, value in section.items())
        answer = place / "answer.json"
        script = [
            str(HERE / "in_copy.py"),
            str(sample),
            str(SEED),
            str(seconds),
            str(answer),
            *names,
        ]
        done = subprocess.run([sys.executable, *script], cwd=place, capture_output=True, text=True)
        if not answer.exists():
            print(done.stdout[-3000:], done.stderr[-3000:], file=sys.stderr)
            return None
        return dict(json.loads(answer.read_text()))


def told(file: str, found: dict[str, object]) -> None:
    """The score of a file, and each mutant that lives."""
    results, diffs = found["results"], found["diffs"]
    assert isinstance(results, dict)
    assert isinstance(diffs, dict)
    for name, diff in diffs.items():
        print(f"{name}\n{diff}")
    count = Counter(results.values())
    run = len(results) - count["not checked"]
    noticed = run - len(diffs)
    print(f"{file}: {noticed} of {run} noticed ({100 * noticed / max(run, 1):.0f} %), "
          f"{found['made']} made; {dict(count)}", flush=True)  # fmt: skip


def changed(base: str) -> list[str]:
    """The product's files that differ from another commit and for which tests are named."""
    asked = ["git", "diff", "--name-only", "--diff-filter=d", base, "--", "buildlog/*.py"]
    done = subprocess.run(asked, cwd=ROOT, capture_output=True, text=True, check=True)
    return [name for name in done.stdout.split() if nearest(name)]


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.mutants.run")
    parser.add_argument("file", nargs="*")
    parser.add_argument("--sample", type=int, default=0, help="so many of a file, by a fixed seed")
    parser.add_argument("--seconds", type=int, default=0, help="at most, for all files together")
    parser.add_argument("--name", action="append", default=[], help="only this mutant, by its end")
    parser.add_argument("--since", help="also the files that changed since this commit")
    asked = parser.parse_args()
    end, status = time.monotonic() + asked.seconds, 0
    for file in dict.fromkeys([*asked.file, *(changed(asked.since) if asked.since else [])]):
        left = round(end - time.monotonic()) if asked.seconds else 0
        if left < 0:
            print(f"{file}: not run, the time is over")
            continue
        found = mutated(file, asked.sample, left, asked.name)
        status |= found is None
        if found is not None:
            told(file, found)
    return int(status)


if __name__ == "__main__":
    raise SystemExit(main())
