"""A session's files in the working folder: names that every computer can hold; all or none."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
import unicodedata
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildlog.errors import ChangedUnderYou, InvalidInput
from buildlog.store.git import ledger_files
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.ledger.session_files import refuse_session_name, safe_name, write_session
from buildlog.store.ledger.working import blob_id

ROOT = Path(__file__).parents[2]
NAME = "2026-03-14-x"
TEXT = b"format = 1\ndate = 2026-03-14\n"


@given(st.text(max_size=300), st.lists(st.text(max_size=20), max_size=3))
def test_any_text_becomes_a_name_that_can_be_recorded(text: str, others: list[str]) -> None:
    taken = [safe_name(other, NAME, []) for other in others]
    found = safe_name(text, NAME, taken)
    path = f"dyno/{NAME}/{found}"
    assert ledger_files.refusal(path) is None
    assert ledger_files.kind_of(path) == "raw"
    assert found.casefold() not in {name.casefold() for name in (*taken, "session.toml")}
    assert unicodedata.normalize("NFC", found) == found


def test_an_ordinary_name_is_kept() -> None:
    assert safe_name("T26-003 Lauf-1.CSV", NAME, []) == "T26-003-Lauf-1.CSV"
    assert safe_name("pull_1.csv", NAME, []) == "pull_1.csv"


def test_a_file_is_known_again_by_gits_own_id() -> None:
    """`git hash-object` of the four bytes is the outside witness."""
    done = subprocess.run(
        ["git", "hash-object", "--stdin"], input=b"n,P\n", capture_output=True, check=True
    )
    assert blob_id(b"n,P\n") == done.stdout.decode().strip()


@pytest.mark.parametrize("name", ["..", ".hidden", "a/b", "con", "x.lock", "-x", "a\u202eb"])
def test_a_session_cannot_have_such_a_name(name: str) -> None:
    with pytest.raises(InvalidInput):
        refuse_session_name(name)


@pytest.fixture
def ledger(tmp_path: Path) -> Ledger:
    (tmp_path / "car").mkdir()
    return Ledger.create(tmp_path / "car")


def test_more_files_join_and_what_is_there_is_not_written_again(ledger: Ledger) -> None:
    write_session(ledger, NAME, {"a.csv": b"a"}, TEXT, None)
    place = ledger.folder / "dyno" / NAME
    before = (place / "a.csv").stat().st_mtime_ns
    write_session(ledger, NAME, {"a.csv": b"other", "b.csv": b"b"}, TEXT + b"x = 1\n", TEXT)
    assert (place / "a.csv").read_bytes() == b"a"
    assert (place / "a.csv").stat().st_mtime_ns == before
    assert (place / "b.csv").read_bytes() == b"b"
    assert (place / "session.toml").read_bytes() == TEXT + b"x = 1\n"


def test_an_edit_made_meanwhile_is_not_lost(ledger: Ledger) -> None:
    write_session(ledger, NAME, {"a.csv": b"a"}, TEXT, None)
    place = ledger.folder / "dyno" / NAME
    (place / "session.toml").write_bytes(b"edited\n")
    with pytest.raises(ChangedUnderYou):
        write_session(ledger, NAME, {"b.csv": b"b"}, TEXT + b"x = 1\n", TEXT)
    assert sorted(path.name for path in place.iterdir()) == ["a.csv", "session.toml"]
    assert (place / "session.toml").read_bytes() == b"edited\n"


WRITER = """
import sys
from pathlib import Path
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.ledger.session_files import write_session
folder, first = Path(sys.argv[1]), int(sys.argv[2])
with Ledger(folder) as ledger:
    for n in range(first, first + 1000):
        files = {f"pull-{i}.csv": b"%d" % i * 20_000 for i in range(6)}
        write_session(ledger, f"2026-03-14-{n}", files, b"format = 1\\n", None)
"""


def test_a_killed_writer_leaves_whole_sessions_or_none(ledger: Ledger) -> None:
    """Twenty kills at times spread over a write; each session there is has all seven files."""
    whole = {"session.toml", *(f"pull-{i}.csv" for i in range(6))}
    for kill in range(20):
        process = subprocess.Popen(
            [sys.executable, "-c", WRITER, str(ledger.folder), str(1000 * kill)], cwd=ROOT
        )
        first = ledger.folder / "dyno" / f"2026-03-14-{1000 * kill}"
        while not first.exists() and process.poll() is None:
            time.sleep(0.001)
        time.sleep(0.0037 * kill)
        os.kill(process.pid, signal.SIGKILL)
        process.communicate()
    folder = ledger.folder / "dyno"
    sessions = list(folder.iterdir())
    assert len(sessions) >= 20
    for place in sessions:
        assert {path.name for path in place.iterdir()} == whole
        assert all((place / f"pull-{i}.csv").read_bytes() == b"%d" % i * 20_000 for i in range(6))
    write_session(ledger, NAME, {"a.csv": b"a"}, TEXT, None)
    assert os.listdir(ledger.repo.git / "buildlog-spool") == []
