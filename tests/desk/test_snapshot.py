"""A snapshot stays what it was, for every thread, whatever happens to the ledger meanwhile."""

from __future__ import annotations

import datetime as dt
import itertools
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from buildlog.desk.questions.compare import diff
from buildlog.desk.questions.limits import limits_of
from buildlog.desk.questions.predict import predictor_of
from buildlog.desk.snapshot import opening
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import NotFound
from buildlog.records.paths import leaves
from buildlog.report.as_json.diff_json import diff_json
from buildlog.store.disk import index_db
from buildlog.store.git.message import EntryFacts
from buildlog.store.ledger import plan_branches
from buildlog.store.ledger.append import Recorder
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.ledger.names import WORKING
from tests.histories import CAR, git, loosen, usual

ROOT = Path(__file__).parents[2]
NAMES = (
    "working",
    "latest",
    "first",
    "last-dyno",
    "1",
    "2",
    "3",
    "baseline",
    "stage-1",
    "plan:cam",
)
BY = Recorder("Quarry Lane", dt.datetime(2026, 7, 1, 9, tzinfo=dt.UTC))


def one_more(folder: Path, number: int, **more: str) -> None:
    """Another entry, as a command in the same folder makes it."""
    with Ledger.open(folder) as ledger:
        car = ledger.read(WORKING, "car.toml") + f"# {number}\n".encode()
        ledger.write_working("car.toml", car)
        said = {"stage": f"later-{number}", "odometer": "90000 mi", **more}
        facts = EntryFacts(f"more {number}", **said)  # type: ignore[arg-type]
        ledger.record(facts, BY)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Three entries, a plan, and an edit that is not recorded."""
    place = tmp_path / "tern"
    with usual(place) as ledger:
        plan_branches.create(ledger, "cam", ledger.resolve("latest"), CAR.encode(), BY)
    with (place / "car.toml").open("a") as car:
        car.write('\n[exhaust]\npipe_diameter = "57 mm"\n')
    return place


def seen(book: Snapshot) -> dict[str, Any]:
    """What a snapshot says of every kind of name, of its files and of its sessions."""
    working = book.ledger.working().files
    return {
        "versions": {name: book.version(name) for name in NAMES},
        "entries": [entry.id for entry in book.entries],
        "sessions": {name: book.session(name) for name in book.session_places},
        "files": {path: book.ledger.read(WORKING, path) for path in working},
        "plans": [plan.version for plan in plan_branches.plans(book.ledger)],
        "head": book.head,
        "id": book.ledger.id,
    }


CHANGES: dict[str, Callable[[Path], object]] = {
    "an entry": lambda folder: one_more(folder, 1),
    "an edit": lambda folder: (folder / "car.toml").write_text(CAR),
    "a broken car.toml": lambda folder: (folder / "car.toml").write_text("= ?"),
    "a file gone": lambda folder: (folder / "car.toml").unlink(),
    "packed objects": lambda folder: git(folder, "gc", "--quiet", "--prune=now"),
    "packed references": lambda folder: git(folder, "pack-refs", "--all"),
    "the plan changed": lambda folder: _change_plan(folder),
    "the plan gone": lambda folder: git(folder, "branch", "-D", "plan/cam"),
    "another plan": lambda folder: git(folder, "branch", "plan/turbo", "plan/cam"),
    "a stage's tag gone": lambda folder: git(folder, "tag", "-d", "stage/stage-1"),
    "the history gone on by git": lambda folder: git(
        folder, "commit", "-q", "--allow-empty", "-m", "by plain git"
    ),
    "the history taken back": lambda folder: git(folder, "update-ref", "refs/heads/main", "main~1"),
}  # fmt: skip


def _change_plan(folder: Path) -> None:
    with Ledger.open(folder) as ledger:
        branch = plan_branches.find(ledger, "cam")
        plan_branches.change(ledger, branch, {"car.toml": CAR.encode() + b"#\n"}, "more", BY)


@pytest.mark.parametrize("change", CHANGES)
def test_what_was_seen_stays_whatever_happens_to_the_ledger(folder: Path, change: str) -> None:
    with opening.snapshot(folder) as book, opening.snapshot(folder) as other:
        before = seen(book)
        CHANGES[change](folder)
        assert seen(book) == before
        # One that had not looked at anything but the head yet still says that head's history.
        assert [entry.id for entry in other.entries] == before["entries"]
        assert other.version("latest") == before["versions"]["latest"]
        with pytest.raises(NotFound):
            other.version("later-1")


def test_a_snapshot_says_what_a_ledger_says(folder: Path) -> None:
    with opening.snapshot(folder) as book, Ledger.open(folder) as ledger:
        assert book.entries == ledger.entries()
        assert book.ledger.files(WORKING) == ledger.files(WORKING)
        for name in NAMES:
            version = ledger.resolve(name)
            assert book.ledger.resolve(name) == version
            for path in ledger.files(version):
                assert book.ledger.read(version, path) == ledger.read(version, path)
                assert book.ledger.content_id(version, path) == ledger.files(version)[path]


def test_an_empty_ledger_stays_empty(tmp_path: Path) -> None:
    folder = tmp_path / "new"
    folder.mkdir()
    (folder / "car.toml").write_text(CAR)
    Ledger.create(folder).close()
    with opening.snapshot(folder) as book:
        assert book.head is None
        one_more(folder, 1)
        assert book.entries == []
        assert book.version("working").configuration.engine is not None


def test_a_newer_one_shares_what_an_older_one_read(folder: Path) -> None:
    with opening.snapshot(folder) as old:
        seen(old)
        one_more(folder, 1)
        with Snapshot(opening.reader(folder), known=old) as new:
            assert [*map(id, new.history[:-1])] == [*map(id, old.history)]
            assert new.session("2026-01-07-baseline") is old.session("2026-01-07-baseline")
            assert new.version("later-1").number == 4
            # A plan is a set of changes: it has what was recorded since, and nothing else is other.
            one, other = (leaves(at.version("plan:cam").configuration) for at in (old, new))
            assert other == one | {path: other[path] for path in ("exhaust.pipe_diameter",)}
            assert "exhaust.pipe_diameter" not in one
        git(folder, "update-ref", "refs/heads/main", "main~2")
        with Snapshot(opening.reader(folder), known=old) as back:
            assert [version.number for version in back.history] == [1, 2]
            assert back.session("2026-01-07-baseline") is old.session("2026-01-07-baseline")


def test_a_sheet_is_worked_out_again_only_if_something_it_hangs_on_changed(
    demo_copy: Path,
) -> None:
    name = "2026-05-09-stage-2"
    with opening.snapshot(demo_copy) as old:
        first = old.sheet(name)
        one_more(demo_copy, 1)
        with Snapshot(opening.reader(demo_copy), known=old) as new:
            assert new.sheet(name) is first
            assert new.sheet(name, "none") is not first
        with (demo_copy / "dyno" / name / "session.toml").open("a") as session:
            session.write("# looked at again\n")
        one_more(demo_copy, 2, kind="correction", corrects=old.owner(name).id)
        with Snapshot(opening.reader(demo_copy), known=old) as new:
            assert new.sheet(name) is not first
            assert new.sheet(name).kept is not None


RECORDER = """
import sys
from pathlib import Path
from tests.desk.test_snapshot import one_more
print("ready", flush=True)
sys.stdin.readline()
for number in range(50):
    one_more(Path(sys.argv[1]), number)
"""


@pytest.fixture
def recording(folder: Path) -> Iterator[Callable[[], subprocess.Popen[str]]]:
    """Another process that records 50 entries once it is told to."""
    with subprocess.Popen(
        [sys.executable, "-c", RECORDER, str(folder)],
        cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    ) as process:  # fmt: skip
        assert process.stdout
        assert process.stdout.readline() == "ready\n"

        def begin() -> subprocess.Popen[str]:
            assert process.stdin
            process.stdin.write("go\n")
            process.stdin.flush()
            return process

        yield begin


@pytest.mark.long
def test_it_stays_true_while_another_process_records_fifty_entries(
    folder: Path, recording: Callable[[], subprocess.Popen[str]]
) -> None:
    with opening.snapshot(folder) as book:
        before = seen(book)
        process = recording()
        looked, heads = 0, [book.head]
        newest = book
        while process.poll() is None:
            assert seen(book) == before
            newest = Snapshot(opening.reader(folder), known=newest)
            assert len(newest.history) == len(newest.entries)
            assert newest.version("latest").id == newest.head == newest.entries[-1].id
            assert newest.entries[:3] == book.entries
            heads.append(newest.head)
            newest.ledger.close()
            looked += 1
        assert process.returncode == 0
        assert seen(book) == before
        assert len(set(heads)) > 2, "nothing was recorded while it was looked at"
        with Snapshot(opening.reader(folder), known=newest) as after:
            assert len(after.entries) == 53
            assert after.version("later-49").number == 53


def answered(book: Snapshot) -> dict[str, Any]:
    """The heavy questions, as bodies that can be compared."""
    margins = limits_of(book).rows(book.version("latest"))
    lies = predictor_of(book).predict(book.version("stage-1"), book.version("working"))
    return {
        "diff": diff_json(diff(book, "stage-1", "stage-2")),
        "margins": [(row.name, row.margin) for row in margins],
        "predicted": (lies.peak_power.p10, lies.peak_power.p50, lies.peak_power.p90),
        "latest": book.version("latest").id,
        "working": book.working.configuration,
        "raw": book.ledger.read(WORKING, "dyno/2026-05-09-stage-2/session.toml"),
    }


def test_eight_threads_read_one_while_a_ninth_records_and_packs(demo_copy: Path) -> None:
    with opening.snapshot(demo_copy) as alone:
        expected = answered(alone)
    index = index_db.Kept().path
    file = index.stat().st_ino
    done = threading.Event()

    def work(number: int) -> None:
        for step in itertools.count():
            one_more(demo_copy, step)
            if step % 3 == 0:
                git(demo_copy, "gc", "--quiet", "--prune=now")
            if done.is_set():
                return

    with opening.snapshot(demo_copy) as book, ThreadPoolExecutor(9) as pool:
        ninth = pool.submit(work, 9)
        turns = [pool.submit(answered, book) for _ in range(8)]
        found = [turn.result() for turn in turns]
        again = [one.result() for one in [pool.submit(answered, book) for _ in range(8)]]
        done.set()
        ninth.result()
        assert found == [expected] * 8
        assert again == [expected] * 8
    assert index.stat().st_ino == file
    with opening.snapshot(demo_copy) as after:
        assert len(after.entries) > 16


def test_each_thing_is_made_once_for_all_threads(demo: Path) -> None:
    with opening.snapshot(demo) as book, ThreadPoolExecutor(8) as pool:
        for ask in (
            lambda: book.history,
            lambda: book.visits,
            lambda: book.papers,
            lambda: book.working,
            lambda: book.sheet("2026-05-09-stage-2"),
            lambda: book.session("2026-05-09-stage-2"),
            lambda: limits_of(book).rows(book.working),
        ):
            assert len({id(one.result()) for one in [pool.submit(ask) for _ in range(8)]}) == 1


def test_working_files_are_read_at_one_moment(tmp_path: Path) -> None:
    """Two files are written one after the other, for ever: they are never seen two steps apart."""
    folder = tmp_path / "tern"
    usual(folder).close()
    stop = threading.Event()

    def write() -> None:
        with Ledger.open(folder) as ledger:
            for step in itertools.count():
                for path in ("lists/a.toml", "lists/z.toml"):
                    ledger.write_working(path, f"format = 1\n# {step}\n".encode())
                if stop.wait(0.01):
                    return

    (folder / "lists").mkdir()
    with ThreadPoolExecutor(1) as pool:
        writer = pool.submit(write)
        while not (folder / "lists/z.toml").exists():
            stop.wait(0.01)
        for _ in range(20):
            with opening.snapshot(folder) as book:
                one, other = (
                    int(book.ledger.read(WORKING, f"lists/{name}.toml").split(b"#")[1])
                    for name in ("a", "z")
                )
                assert other <= one <= other + 1
        stop.set()
        writer.result()


def test_a_damaged_object_does_not_hide_the_working_file_that_is_whole(folder: Path) -> None:
    with Ledger.open(folder) as ledger:
        path = "dyno/2026-01-07-baseline/pull-1.csv"
        name = ledger.content_id(ledger.resolve("latest"), path)
        data = ledger.read(WORKING, path)
    assert name is not None
    loosen(folder)
    (folder / ".git/objects" / name[:2] / name[2:]).unlink()
    with opening.snapshot(folder) as book:
        assert book.ledger.read(WORKING, path) == data


def test_what_fails_fails_each_time_the_same(folder: Path) -> None:
    with opening.snapshot(folder) as book:
        for ask in (lambda: book.version("nothing"), lambda: book.sheet("2026-01-01-none")):
            texts = set()
            for _ in range(2):
                with pytest.raises(NotFound) as caught:
                    ask()
                texts.add(str(caught.value))
            assert len(texts) == 1
