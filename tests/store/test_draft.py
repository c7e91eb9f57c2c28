"""A draft: working files edited in memory, recorded all together or not at all."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from buildlog.errors import BuildlogError, ChangedUnderYou, DiskError, InvalidInput
from buildlog.store.disk import atomic
from buildlog.store.git.message import EntryFacts
from buildlog.store.ledger import append
from buildlog.store.ledger.append import Recorder
from buildlog.store.ledger.draft import Draft
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.ledger.names import WORKING
from buildlog.store.ledger.pinned import PinnedReader
from buildlog.store.ledger.reader import Reader
from buildlog.store.ledger.session_files import write_session
from tests.histories import CAR, PULL, SESSION, SHOP, START, git, usual

ROOT = Path(__file__).parents[2]
BY = Recorder(SHOP, START.replace(year=2027))
FACTS = EntryFacts("exhaust", odometer="89000 mi")
NEW = CAR.encode() + b'\n[exhaust]\npipe_diameter = "57 mm"\n'
OTHER = "2026-02-01-later"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Three entries, and an edit in car.toml that is not recorded."""
    place = tmp_path / "tern"
    usual(place).close()
    with (place / "car.toml").open("a") as car:
        car.write("# as it stands\n")
    return place


def draft(folder: Path) -> Draft:
    return Draft(PinnedReader(Reader.open(folder)))


def edit(ledger: Ledger) -> None:
    """The same acts on a ledger and on a draft of it: a file changed, files added."""
    ledger.write_working("car.toml", NEW, expect=ledger.read(WORKING, "car.toml"))
    ledger.write_working("faults/2026-02-02-hiss.toml", b'format = 1\nsymptom = "hiss"\n')
    files, text = {"pull-1.csv": PULL}, SESSION.encode()
    if isinstance(ledger, Draft):
        ledger.write_session(OTHER, files, text, None)
    else:
        write_session(ledger, OTHER, files, text, None)


def state(folder: Path) -> dict[str, bytes]:
    """Everything in the folder and the references: what must not change."""
    paths = [path for path in folder.rglob("*") if path.is_file() and "objects" not in path.parts]
    kept = [path for path in paths if path.name not in ("buildlog.lock", "buildlog.holder")]
    return {str(path.relative_to(folder)): path.read_bytes() for path in kept}


def test_what_is_recorded_is_what_the_same_acts_on_the_folder_record(
    folder: Path, tmp_path: Path
) -> None:
    git(tmp_path, "clone", "-q", str(folder), "twin")
    twin = tmp_path / "twin"
    (twin / "car.toml").write_bytes((folder / "car.toml").read_bytes())
    with draft(folder) as work:
        before = state(folder)
        edit(work)
        assert state(folder) == before
        entry = work.record(FACTS, BY)
    with Ledger.open(twin) as ledger:
        edit(ledger)
        assert ledger.record(FACTS, BY) == entry
        assert {path: ledger.read(WORKING, path) for path in ledger.working().files} == {
            path: (folder / path).read_bytes() for path in ledger.working().files
        }
    with Ledger.open(folder) as ledger:
        assert ledger.propose().change.all == ()
    assert git(folder, "status", "--porcelain") == ""


def test_a_draft_reads_what_was_written_in_it(folder: Path) -> None:
    with draft(folder) as work:
        edit(work)
        assert work.read(WORKING, "car.toml") == NEW
        assert f"dyno/{OTHER}/pull-1.csv" in work.files(WORKING)
        assert work.content_id(WORKING, "car.toml") == work.working().files["car.toml"]
        assert work.read(work.resolve("latest"), "car.toml") != NEW
        assert work.propose().read("car.toml") == NEW
        assert work.propose().read(f"dyno/{OTHER}/pull-1.csv") == PULL


def _another_entry(folder: Path) -> None:
    with Ledger.open(folder) as ledger:
        ledger.record(EntryFacts("another", odometer="88900 mi"), BY)


MEANWHILE: dict[str, Callable[[Path], object]] = {
    "another entry": _another_entry,
    "an entry by plain git": lambda f: git(f, "commit", "-q", "--allow-empty", "-m", "x"),
    "the history taken back": lambda f: git(f, "update-ref", "refs/heads/main", "main~1"),
    "the file edited": lambda f: (f / "car.toml").write_text(CAR),
    "the file gone": lambda f: (f / "car.toml").unlink(),
    "another file": lambda f: (f / "priors.toml").write_text("format = 1\n"),
    "a raw file edited": lambda f: (f / "dyno/2026-01-07-baseline/pull-1.csv").write_bytes(b"1,2"),
}


@pytest.mark.parametrize("meanwhile", MEANWHILE)
def test_what_changed_meanwhile_refuses_all_of_it(folder: Path, meanwhile: str) -> None:
    with draft(folder) as work:
        edit(work)
        MEANWHILE[meanwhile](folder)
        before = state(folder)
        with pytest.raises(ChangedUnderYou):
            work.record(FACTS, BY)
        with pytest.raises(ChangedUnderYou):
            work.propose()
        assert state(folder) == before


def _refuses(_: object) -> None:
    raise InvalidInput("not this")


def test_a_refusal_leaves_the_folder_as_it_was(folder: Path) -> None:
    for facts, prepare in (
        (FACTS, _refuses),
        (EntryFacts("back", odometer="1 mi"), None),
        (EntryFacts("twice", stage="stage-1", odometer="89000 mi"), None),
    ):
        with draft(folder) as work:
            edit(work)
            before = state(folder)
            with pytest.raises(BuildlogError):
                work.record(facts, BY, prepare=prepare)
            assert state(folder) == before


@pytest.mark.parametrize("fails_at", range(1, 6))
def test_a_disk_that_fails_leaves_the_folder_as_it_was(
    folder: Path, fails_at: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each write to the folder in turn; the fifth is the reference that makes it an entry."""
    real, count = atomic.replace, 0

    def failing(path: Path, data: bytes, **options: object) -> None:
        nonlocal count
        count += folder in path.parents and ".git" not in path.parts
        if count == fails_at:
            count += 100
            raise OSError(28, "No space left on device")
        real(path, data, **options)  # type: ignore[arg-type]

    with draft(folder) as work:
        edit(work)
        before = state(folder)
        if fails_at < 5:
            monkeypatch.setattr(atomic, "replace", failing)
        else:
            monkeypatch.setattr(append, "move", _no_space)
        with pytest.raises(DiskError):
            work.record(FACTS, BY)
        monkeypatch.undo()
        assert state(folder) == before
        assert not (folder / "dyno" / OTHER).exists()
        work.record(FACTS, BY)  # and nothing hinders the next attempt


def _no_space(*_: object) -> None:
    raise OSError(28, "No space left on device")


DIES = """
import os, sys
from pathlib import Path
from buildlog.store.ledger import append
from tests.store import test_draft
point = sys.argv[2]
real = getattr(append, point)
def dies(*given):
    if sys.argv[3] == "after":
        real(*given)
    os._exit(9)
setattr(append, point, dies)
with test_draft.draft(Path(sys.argv[1])) as work:
    test_draft.edit(work)
    work.record(test_draft.FACTS, test_draft.BY)
"""


@pytest.mark.parametrize("when", ["before", "after"])
@pytest.mark.parametrize("point", ["chained", "publish", "move", "bring_in_step"])
def test_a_death_leaves_it_unrecorded_or_recorded_and_loses_nothing(
    folder: Path, point: str, when: str
) -> None:
    done = subprocess.run(
        [sys.executable, "-c", DIES, str(folder), point, when], cwd=ROOT, check=False,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert done.returncode == 9
    car = (folder / "car.toml").read_bytes()
    with Ledger.open(folder) as ledger:
        ledger.settle()
        recorded = len(ledger.entries()) == 4
        assert recorded == ((point, when) not in {
            ("chained", "before"), ("chained", "after"), ("publish", "before"), ("move", "before"),
        })  # fmt: skip
        if recorded:
            assert ledger.propose().change.all == ()
            assert ledger.read(ledger.resolve("latest"), "car.toml") == NEW
        else:  # as it was, or an edit to be recorded; never a part of one file
            assert car in (NEW, CAR.replace("9.2", "9.0").encode() + b"# as it stands\n")
            ledger.record(EntryFacts("now", odometer="89000 mi"), BY)
        assert (folder / "car.toml").read_bytes() == ledger.read(
            ledger.resolve("latest"), "car.toml"
        )


def test_a_draft_refuses_what_the_folder_refuses(folder: Path) -> None:
    with draft(folder) as work:
        for path in ("nowhere.bin", "../car.toml", "dyno/x/../../y", "lists/CON.toml"):
            with pytest.raises(InvalidInput):
                work.write_working(path, b"")
        with pytest.raises(ChangedUnderYou):
            work.write_working("car.toml", NEW, expect=b"another")
        name = "2026-01-07-baseline"
        with pytest.raises(InvalidInput, match="files in this folder already"):
            work.write_session(name, {}, b"", None)
        with pytest.raises(ChangedUnderYou):
            work.write_session(name, {}, b"", b"another")
        with pytest.raises(InvalidInput, match="writes nothing"):
            work.append({}, FACTS, BY)
        work.write_working("lists/own.toml", b"format = 1\n")
        work.write_working("lists/Own.toml", b"format = 1\n")
        with pytest.raises(InvalidInput, match="capitals only"):
            work.record(FACTS, BY)


def test_a_first_entry_is_recorded_only_if_there_is_still_none(tmp_path: Path) -> None:
    folder = tmp_path / "new"
    folder.mkdir()
    (folder / "car.toml").write_text(CAR)
    Ledger.create(folder).close()
    with draft(folder) as one, draft(folder) as other:
        for work in (one, other):
            work.write_working("car.toml", NEW)
        assert one.record(FACTS, BY).number == 1
        with pytest.raises(ChangedUnderYou):
            other.record(FACTS, BY)
