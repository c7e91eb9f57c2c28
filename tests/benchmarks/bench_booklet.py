"""How long a booklet of 100 entries and 20 sessions takes, and how large it is.

    python tests/benchmarks/bench_booklet.py

The bounds are the design's: under 10 s by the clock and under 3 MB. The processor's time, which
does not hang on what else the computer does, is printed beside it.
"""

from __future__ import annotations

import datetime as dt
import gc
import os
import shutil
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))
os.environ["OPENBLAS_NUM_THREADS"] = "1"  # as `buildlog` itself sets it, before numpy comes

from buildlog.desk.acts.record import record_working
from buildlog.desk.acts.replay import demo_source, replay
from buildlog.desk.give.booklet_content import content
from buildlog.desk.snapshot.opening import recorded
from buildlog.report.booklet.assemble import booklet
from buildlog.report.booklet.html import html
from buildlog.report.numbers import Display
from buildlog.store.git.message import EntryFacts
from buildlog.store.ledger.append import Recorder
from buildlog.store.ledger.ledger import Ledger

ENTRIES, SESSIONS = 100, 20
SECONDS, BYTES = 10.0, 3_000_000


def grown(folder: Path) -> Ledger:
    """The demo with more stages: each changes the car, every fifth is measured."""
    replay(demo_source(), folder)
    ledger = Ledger.open(folder)
    sessions = 4
    first = ledger.entries()[-1]
    for number in range(len(ledger.entries()), ENTRIES):
        day = first.work_date + dt.timedelta(days=number)
        _change(folder, number)
        measured = sessions < SESSIONS and number % 5 == 0
        if measured:
            sessions += 1
            _session(folder, day, number)
        facts = EntryFacts(f"work {number}", work_date=day, odometer=f"{90_000 + 20 * number} mi",
                      stage=f"step-{number}" if measured else None)  # fmt: skip
        now = dt.datetime.combine(day, dt.time(12), dt.UTC)
        record_working(ledger, facts, Recorder("Dunmarrow Works", now), session_is_new=True)
    return ledger


def _change(folder: Path, number: int) -> None:
    path = folder / "car.toml"
    lines = path.read_text("utf-8").split("\n")
    at = next(i for i, line in enumerate(lines) if line.startswith("mass = "))
    lines[at] = f'mass = "{1300 + number} kg"'
    path.write_text("\n".join(lines), "utf-8")


def _session(folder: Path, day: dt.date, number: int) -> None:
    source = folder / "dyno" / "2026-05-09-stage-2"
    target = folder / "dyno" / f"{day}-step-{number}"
    shutil.copytree(source, target)
    path = target / "session.toml"
    lines = path.read_text("utf-8").split("\n")
    lines = [f"date = {day}" if line.startswith("date") else line for line in lines]
    lines = [f'odometer = "{90_000 + 20 * number} mi"' if line.startswith("odometer") else line
             for line in lines]  # fmt: skip
    path.write_text("\n".join(lines), "utf-8")


def main() -> int:
    gc.set_threshold(50_000, 20, 50)  # this, too, as `buildlog` sets it when it starts
    with tempfile.TemporaryDirectory() as folder, grown(Path(folder)) as ledger:
        entries = ledger.entries()
        sessions = sum(len(ledger.sessions_added(entry)) for entry in entries)
        begun, worked = time.perf_counter(), time.process_time()
        document = booklet(content(recorded(ledger), "Dunmarrow Works"), Display("us"))
        data = html(document).encode()
        clock, processor = time.perf_counter() - begun, time.process_time() - worked
    print(f"{len(entries)} entries, {sessions} sessions: {clock:.1f} s by the clock "
          f"({processor:.1f} s of the processor), {len(data) / 1e6:.2f} MB")  # fmt: skip
    return int(clock > SECONDS or len(data) > BYTES)


if __name__ == "__main__":
    sys.exit(main())
