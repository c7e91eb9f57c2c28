"""Reading a 92 MB log of 12 channels, 3 of them wanted, beside numpy.loadtxt in the same run.

    python tests/benchmarks/bench_rawfiles.py            # both limits, and 10 million rows
    pytest tests/benchmarks/bench_rawfiles.py

Limits: at most 1.3 times numpy.loadtxt(usecols=...), best of five each, taken in turns; peak memory
of a process that does nothing else below 150 MB.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from buildlog.rawfiles.spec import ColumnSpec
from buildlog.rawfiles.table import read_table

ROWS, BLOCK = 1_150_000, 10_000
WANTED = [
    ColumnSpec("engine_speed", "Engine speed (rpm)", "rpm"),
    ColumnSpec("power", "Power (kW)", "kW"),
    ColumnSpec("boost", "Boost (kPa)", "kPa"),
]
HEADINGS = (
    "Time (s),Engine speed (rpm),Road speed (km/h),Power (kW),Torque (Nm),Lambda,Boost (kPa),"
    "Spark (deg),Intake (degC),Coolant (degC),Oil (bar),Throttle (%)"
)
MEMORY = """
import resource, sys
from pathlib import Path
from tests.benchmarks.bench_rawfiles import WANTED
from buildlog.rawfiles.table import read_table
read_table(Path(sys.argv[1]), "log.csv", WANTED)
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
"""


def write_log(path: Path, rows: int = ROWS) -> None:
    """An invented log: the same block of numbers over and over, about 80 bytes a row."""
    random = np.random.default_rng(1)
    block = random.uniform(100, 9000, (BLOCK, 12))
    text = "\n".join(",".join(f"{x:.1f}" for x in row) for row in block) + "\n"
    with path.open("w") as stream:
        stream.write(HEADINGS + "\n")
        for _ in range(rows // BLOCK):
            stream.write(text)


@pytest.fixture(scope="module")
def log(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("log") / "log.csv"
    write_log(path)
    return path


def seconds(work: Callable[[], object]) -> float:
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun


def ratio(path: Path) -> tuple[float, float]:
    """Best of five each, in turns: ours and numpy's."""
    ours, theirs = [], []
    for _ in range(5):
        theirs.append(
            seconds(lambda: np.loadtxt(path, delimiter=",", skiprows=1, usecols=(1, 3, 6)))
        )
        ours.append(seconds(lambda: read_table(path, "log.csv", WANTED)))
    return min(ours), min(theirs)


def peak_memory(path: Path) -> float:
    """Peak resident memory in MB of a fresh process that reads the log."""
    root = Path(__file__).parents[2]
    done = subprocess.run(
        [sys.executable, "-c", MEMORY, str(path)],
        capture_output=True,
        text=True,
        check=True,
        cwd=root,
    )
    return float(done.stdout)


def test_time_beside_loadtxt(log: Path) -> None:
    ours, theirs = ratio(log)
    assert ours <= 1.3 * theirs, f"{ours:.2f} s against {theirs:.2f} s"


def test_peak_memory(log: Path) -> None:
    assert peak_memory(log) < 150


def test_ten_million_rows(tmp_path: Path) -> None:
    path = tmp_path / "long.csv"
    block = "".join(f"{n % 6000 + 1000},{n % 97 + 0.5}\n" for n in range(100_000))
    path.write_text("RPM,Power (kW)\n" + block * 100)
    specs = [ColumnSpec("engine_speed", "RPM", "rpm"), ColumnSpec("power", "Power (kW)", "kW")]
    assert read_table(path, "long.csv", specs).rows == 10_000_000


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        written = Path(folder) / "log.csv"
        write_log(written)
        print(f"{written.stat().st_size / 1e6:.0f} MB, {ROWS} rows x 12 channels, 3 wanted")
        mine, numpys = ratio(written)
        print(f"read_table {mine:.2f} s, numpy.loadtxt {numpys:.2f} s, ratio {mine / numpys:.2f}")
        print(f"peak memory {peak_memory(written):.0f} MB")
