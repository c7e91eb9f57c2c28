"""What the user waits for, as ratios to peers that run in the same minutes: one table.

    python tests/benchmarks/bench_all.py [--quick]

Each case runs in a process of its own, in turn with its peers, round after round; medians are
compared. Absolute times say little on a shared machine, the ratios do. Compiled modules are
kept in a folder of the benchmark's own, as an installed program has them.
"""

from __future__ import annotations

import argparse
import math
import os
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

sys.path.insert(0, str(Path(__file__).parent))
from made_ledgers import demo_with_layouts, make, material

ROOT = Path(__file__).parents[2]
PY = sys.executable
FLOOR = [PY, "-c", "import click, dulwich.repo; from pydantic import BaseModel"]
BARE = [PY, "-c", "pass"]
STARTUP = [PY, "-m", "buildlog", "--version"]


@dataclass(frozen=True)
class Case:
    """A command, the peer it is compared with, and the largest ratio that is asked for."""

    name: str
    command: Sequence[str]
    peer: str
    limit: float | None = None
    before: Callable[[], None] | None = None


def buildlog(*arguments: str | Path) -> list[str]:
    return [PY, "-m", "buildlog", *map(str, arguments)]


class Taken(NamedTuple):
    """Seconds by the clock, which the user waits for, and of the processor."""

    clock: float
    processor: float


def run(command: Sequence[str], before: Callable[[], None] | None = None) -> Taken:
    if before:
        before()
    begun, worked = time.perf_counter(), _worked()
    done = subprocess.run(command, cwd=ROOT, capture_output=True)
    taken = Taken(time.perf_counter() - begun, _worked() - worked)
    if done.returncode not in (0, 1):
        raise SystemExit(f"{' '.join(command)} failed:\n{done.stderr.decode()}")
    return taken


def _worked() -> float:
    """The processor time of everything that was run so far."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def timed(
    cases: Sequence[Case], peers: Mapping[str, Sequence[str]], rounds: int
) -> dict[str, list[Taken]]:
    """The seconds of each case and each peer, run in turn."""
    times: dict[str, list[Taken]] = {}
    for _ in range(rounds + 1):  # the first round warms the disk and compiles, and is dropped
        for name, command in peers.items():
            times.setdefault(name, []).append(run(command, None))
        for case in cases:
            times.setdefault(case.name, []).append(run(case.command, case.before))
    return {name: taken[1:] for name, taken in times.items()}


def table(
    title: str, cases: Sequence[Case], peers: Mapping[str, Sequence[str]], rounds: int
) -> dict[str, float]:
    """Run, print, and give the medians."""
    return shown(title, cases, peers, timed(cases, peers, rounds))


def shown(
    title: str,
    cases: Sequence[Case],
    peers: Mapping[str, Sequence[str]],
    times: dict[str, list[Taken]],
) -> dict[str, float]:
    """Print the medians and their ratios, by the clock and by the processor; the clock's."""
    found = {name: statistics.median(one.clock for one in taken) for name, taken in times.items()}
    worked = {name: statistics.median(one.processor for one in taken)
              for name, taken in times.items()}  # fmt: skip
    rounds = min(map(len, times.values()))
    print(f"\n{title} ({rounds} rounds, medians)")
    for name in peers:
        print(f"  {name:34} {1000 * found[name]:9.1f} ms")
    for case in cases:
        ratio = found[case.name] / found[case.peer]
        asked = f"  asked {case.limit:g}" if case.limit else ""
        verdict = "" if not case.limit else "  held" if ratio <= case.limit else "  MISSED"
        print(f"  {case.name:34} {1000 * found[case.name]:9.1f} ms {ratio:7.2f} x {case.peer}"
              f" (processor {worked[case.name] / worked[case.peer]:.2f} x)"
              f"{asked}{verdict}")  # fmt: skip
    return found


def above(taken: float, found: dict[str, float]) -> float:
    """Time above the program's start-up in units of the floor, both of the same rounds.

    The load of a shared machine changes between one size and the next; so does the floor.
    """
    return max(taken - found["start-up"], 1e-3 * found["floor"]) / found["floor"]


def exponent(sizes: Sequence[int], times: Sequence[float]) -> float:
    """Slope of log(time) over log(size), least squares."""
    x = [math.log(size) for size in sizes]
    y = [math.log(taken) for taken in times]
    mx, my = statistics.fmean(x), statistics.fmean(y)
    return sum((a - mx) * (b - my) for a, b in zip(x, y, strict=True)) / sum(
        (a - mx) ** 2 for a in x
    )


def forget() -> None:
    shutil.rmtree(os.environ["BUILDLOG_CACHE"], ignore_errors=True)


def git_pair(folder: Path) -> list[str]:
    script = f'git -C "{folder}" log --format=%H:car.toml | git -C "{folder}" cat-file --batch'
    return ["sh", "-c", script]


def startup(work: Path, files: dict[str, bytes], rounds: int) -> None:
    ledger = make(work / "e200", 200, 200, files)
    demo = demo_with_layouts(work / "demo", work / "demo-source")
    two: list[str | Path] = ["stage-1", "stage-2", "--ledger", demo]
    at: list[str | Path] = ["--ledger", ledger]
    cases = [
        Case("--help", buildlog("--help"), "bare python", 4.5),
        Case("history, 200 entries", buildlog("history", *at), "floor", 1),
        Case("show, 200 entries", buildlog("show", *at), "floor", 1.8),
        Case("next, 200 entries", buildlog("next", *at), "floor", 2.2),
        Case("margins, 200 entries", buildlog("margins", *at), "floor", 2.2),
        Case("diff with prediction, demo", buildlog("diff", *two), "floor", 5),
        Case("predict, demo", buildlog("predict", *two), "floor", 5),
        Case("dyno sheet, demo", buildlog("dyno", "sheet", "--ledger", demo), "floor"),
        Case("plot, demo", buildlog("plot", "--out", work / "x.png", "--ledger", demo), "floor"),
        Case("report, demo", buildlog("report", "--ledger", demo), "floor", 9),
    ]
    table("start-up", cases, {"bare python": BARE, "floor": FLOOR}, rounds)


def histories(work: Path, files: dict[str, bytes], sizes: Sequence[int], rounds: int) -> None:
    cold, warm = [], []
    for size in sizes:
        ledger = make(work / f"h{size}", size, size, files)
        call = buildlog("history", "--ledger", ledger)
        cases = [
            Case("history, cold", call, "git pair", 4 if size >= 10_000 else None, forget),
            Case("history, warm", call, "git pair", 1 if size >= 10_000 else None),
        ]
        peers = {"git pair": git_pair(ledger), "floor": FLOOR, "start-up": STARTUP}
        found = table(f"{size:,} entries, loose objects", cases, peers, rounds)
        cold.append(above(found["history, cold"], found))
        warm.append(above(found["history, warm"], found))
    print(f"\n  growth exponent cold {exponent(sizes, cold):.2f} (asked 1.05),"
          f" warm {exponent(sizes, warm):.2f}")  # fmt: skip


def shops(work: Path, files: dict[str, bytes], sizes: Sequence[int]) -> None:
    shop = work / "shop"
    for number in range(max(sizes)):
        make(shop / f"{number // 100:02d}" / f"car-{number:04d}", 50, number + 1, files)
    print("\nthe whole shop (one run cold; medians of three warm)")
    found = [
        _shop([shop / f"{index:02d}" for index in range(max(size // 100, 1))], size)
        for size in sizes
    ]
    if len(sizes) > 1:
        cold, warm = (exponent(sizes, [one[i] for one in found]) for i in (0, 1))
        print(f"  growth exponent cold {cold:.2f}, warm {warm:.2f}")


def _shop(folders: Sequence[Path], size: int) -> tuple[float, float]:
    """`shop list` cold and warm, above the start-up in units of the floor."""
    call = buildlog("shop", "list", *folders)
    peers = {"floor": FLOOR, "start-up": STARTUP}
    found = {name: statistics.median(run(one).clock for _ in range(5))
             for name, one in peers.items()}  # fmt: skip
    forget()
    cold, *again = (run(call).clock for _ in range(4))
    warm = statistics.median(again)
    _one_more_entry(next(folders[0].iterdir()), size)
    one = run(call).clock
    find = [run([*call, "--find", "chassis.mass=1385 kg"]).clock for _ in range(2)]
    asked = f" ({_verdict(cold, 60)}, {_verdict(warm, 1.5)})" if size == 1000 else ""
    print(f"  shop list, {size} ledgers x 50 entries: cold {cold:.2f} s, warm {warm:.2f} s{asked}"
          f"\n    one changed {one:.2f} s; first --find {find[0]:.2f} s, next"
          f" {find[1]:.2f} s")  # fmt: skip
    return above(cold, found), above(warm, found)


def _verdict(taken: float, asked: float) -> str:
    return f"asked {asked:g} s: {'held' if taken <= asked else 'MISSED'}"


def _one_more_entry(car: Path, size: int) -> None:
    subprocess.run(["git", "-C", str(car), "read-tree", "HEAD"], check=True)
    subprocess.run(
        ["git", "-c", "user.name=A", "-c", "user.email=a@b.invalid", "-C", str(car), "commit",
         "-q", "--allow-empty", "-m", f"one more {size}"], check=True,
    )  # fmt: skip


def writing(work: Path, files: dict[str, bytes], rounds: int) -> None:
    """`record` against `git add`, `git commit`: the same three files, both forced to the disk."""
    ledger = make(work / "w50", 50, 50, files)
    plain = Path(shutil.copytree(ledger, work / "w50-git"))
    subprocess.run(["git", "-C", str(plain), "reset", "-q", "--hard"], check=True)
    counter = iter(range(10_000))

    def edit() -> None:
        number = next(counter)
        for folder in (ledger, plain):
            _edit(folder, number)

    who = "-c user.name=A -c user.email=a@b.invalid -c core.fsync=all -c core.fsyncMethod=fsync"
    script = f'cd "{plain}" && git {who} add -A && git {who} commit -q -m x'
    record = buildlog("record", "-m", "x", "--odometer", "90000 mi", "--ledger", ledger)
    cases = [Case("record --dry-run", [*record, "--dry-run"], "floor", 2.6, edit),
             Case("record", record, "git add + commit", None, edit)]  # fmt: skip
    peers = {"floor": FLOOR, "git --version twice": ["sh", "-c", "git --version; git --version"],
             "git add + commit": ["sh", "-c", script]}  # fmt: skip
    times = timed(cases, peers, rounds)
    shown("writing three files, both forced to the disk", cases, peers, times)
    least = {name: min(one.clock for one in taken) for name, taken in times.items()}
    ours = least["record"] - least["record --dry-run"]
    theirs = least["git add + commit"] - least["git --version twice"]
    print(f"  least of each, above what comes before the writing: record {1000 * ours:.1f} ms,"
          f" git {1000 * theirs:.1f} ms")  # fmt: skip


def _edit(folder: Path, number: int) -> None:
    path = folder / "car.toml"
    lines = path.read_text().splitlines()
    at = next(i for i, line in enumerate(lines) if line.startswith("mass"))
    lines[at] = f'mass = "{1500 + number} kg"'
    path.write_text("\n".join([*lines, ""]))
    (folder / "faults").mkdir(exist_ok=True)
    text = 'format = 1\nstate = "closed"\ndate = 2026-05-01\nsymptom = "squeals"\n'
    (folder / "faults" / f"2026-05-01-belt-{number}.toml").write_text(text)


def leaving(work: Path, rounds: int, *, quick: bool) -> None:
    """The booklet of the demo's car, and of one with 100 entries and 20 sessions."""
    sources = {"16 entries": work / "demo"}
    if not quick:
        from bench_booklet import grown

        grown(work / "grown").close()
        sources["100 entries"] = work / "grown"
    cases = []
    for name, source in sources.items():
        copy, out = work / "leaving" / name, work / "handover" / name
        command = buildlog("handover", out, "--no-pdf", "--odometer", "99000 mi", "--ledger", copy)
        cases.append(Case(f"handover, {name}", command, "floor", None, _fresh(source, copy, out)))
    table("handover with booklet, no PDF", cases, {"floor": FLOOR}, rounds)


def _fresh(source: Path, copy: Path, out: Path) -> Callable[[], None]:
    """Each handover is the first of its ledger."""

    def before() -> None:
        for old in (copy, out):
            shutil.rmtree(old, ignore_errors=True)
        Path(f"{out}.zip").unlink(missing_ok=True)
        out.parent.mkdir(parents=True, exist_ok=True)
        shutil.copytree(source, copy)

    return before


def reading(work: Path, rounds: int) -> None:
    """A log of 200,000 rows against numpy.loadtxt, both in this process's interpreter."""
    path = work / "log.csv"
    rows = (f"{1000 + i / 40:.2f},{50 + i / 4000:.3f},{0.9:.3f}" for i in range(200_000))
    path.write_text("n,P,lambda\n" + "\n".join(rows) + "\n")
    ours = (
        "from pathlib import Path\n"
        "from buildlog.rawfiles.table import read_table\n"
        "from buildlog.rawfiles.spec import ColumnSpec as C\n"
        f"read_table(Path({str(path)!r}), 'log.csv', [C('engine_speed','n','rpm'),"
        " C('power','P','kW'), C('lambda','lambda','1')])"
    )
    theirs = f"import numpy; numpy.loadtxt({str(path)!r}, delimiter=',', skiprows=1)"
    table("a log of 200,000 rows", [Case("read_table", [PY, "-c", ours], "numpy.loadtxt")],
          {"numpy.loadtxt": [PY, "-c", theirs]}, rounds)  # fmt: skip


def _env(root: Path) -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": str(root)}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="fewer rounds, smaller sizes")
    quick = parser.parse_args().quick
    rounds = 3 if quick else 9
    with tempfile.TemporaryDirectory() as folder:
        work = Path(folder)
        os.environ |= {
            "BUILDLOG_CACHE": str(work / "cache"),
            "BUILDLOG_CONFIG": str(work / "settings.toml"),
            "PYTHONPYCACHEPREFIX": str(work / "compiled"),
        }
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
        (work / "settings.toml").write_text('shop = "Quarry Lane Motors"\ndone_by = "D-07"\n')
        files = material()
        startup(work, files, rounds)
        histories(work, files, (200, 1000) if quick else (200, 1000, 10_000), min(rounds, 5))
        reading(work, min(rounds, 5))
        writing(work, files, 9)
        leaving(work, min(rounds, 3), quick=quick)
        shops(work, files, (100,) if quick else (100, 1000))


if __name__ == "__main__":
    main()
