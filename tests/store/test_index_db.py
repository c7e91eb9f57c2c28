"""The index may be thrown away: damaged, deleted or shared, what it answers is right or missing."""

from __future__ import annotations

import json
import multiprocessing
import random
import sqlite3
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from buildlog.store.disk import index_db
from buildlog.store.disk.index_db import Kept

ITEMS = {f"{number:040x}": {"name": f"car {number}", "n": number} for number in range(400)}


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "deep" / "index.sqlite"


def filled(path: Path) -> None:
    with Kept(path) as kept:
        kept.put("standing", ITEMS)


def answers(path: Path) -> dict[str, object]:
    with Kept(path) as kept:
        return kept.get("standing", ITEMS)


def test_what_is_put_is_got_by_kind_and_key(path: Path) -> None:
    filled(path)
    with Kept(path) as kept:
        assert kept.get("standing", [*ITEMS, "f" * 40]) == ITEMS
        assert kept.get("spans", ITEMS) == {}
        kept.forget("standing", list(ITEMS)[:1])
        assert len(kept.get("standing", ITEMS)) == len(ITEMS) - 1


def test_a_deleted_file_is_begun_anew(path: Path) -> None:
    filled(path)
    for one in path.parent.iterdir():
        one.unlink()
    assert answers(path) == {}
    filled(path)
    assert answers(path) == ITEMS


@pytest.mark.parametrize("size", [0, 1, 15, 100, 4096, 10_000])
def test_a_truncated_file_never_answers_wrongly_and_can_be_filled_again(
    path: Path, size: int
) -> None:
    filled(path)
    path.write_bytes(path.read_bytes()[:size])
    found = answers(path)
    assert found.items() <= ITEMS.items()
    filled(path)
    assert answers(path) == ITEMS


@pytest.mark.parametrize("seed", range(60))
def test_flipped_bits_never_answer_wrongly_and_can_be_filled_again(path: Path, seed: int) -> None:
    filled(path)
    data = bytearray(path.read_bytes())
    chance = random.Random(seed)
    for _ in range(chance.choice([1, 8, 64])):
        data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
    path.write_bytes(data)
    for key, value in answers(path).items():
        assert ITEMS[key] == value
    filled(path)
    after = answers(path)
    assert after.items() <= ITEMS.items()


def test_a_body_that_was_changed_with_its_json_intact_is_missing(path: Path) -> None:
    filled(path)
    with sqlite3.connect(path) as connection:
        connection.execute(
            "UPDATE kept SET body = ? WHERE key = ?", (b'{"name":"x","n":1}', f"{1:040x}")
        )
    connection.close()
    assert f"{1:040x}" not in answers(path)


def test_something_else_in_its_place_is_replaced(path: Path) -> None:
    path.parent.mkdir(parents=True)
    path.write_bytes(b"this is no database at all, but a letter to a customer\n" * 100)
    filled(path)
    assert answers(path) == ITEMS


def test_an_older_table_of_another_shape_is_replaced(path: Path) -> None:
    path.parent.mkdir(parents=True)
    with sqlite3.connect(path) as connection:
        connection.execute("CREATE TABLE kept (only_this TEXT)")
    connection.close()
    assert answers(path) == {}
    filled(path)
    assert answers(path) == ITEMS


def test_where_nothing_can_be_kept_nothing_is(tmp_path: Path) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("not a folder")
    with Kept(blocked / "index.sqlite") as kept:
        kept.put("standing", ITEMS)
        assert kept.get("standing", ITEMS) == {}


def test_a_folder_in_its_place_is_left_alone(path: Path) -> None:
    path.mkdir(parents=True)
    (path / "mine.txt").write_text("keep")
    filled(path)
    assert answers(path) == {}
    assert (path / "mine.txt").read_text() == "keep"


def _writes(path: str, start: int) -> None:
    with Kept(Path(path)) as kept:
        for number in range(start, 200, 2):
            key = f"{number:040x}"
            kept.put("standing", {key: ITEMS[key]})


def test_two_that_write_at_once_lose_nothing(path: Path) -> None:
    context = multiprocessing.get_context("spawn")
    both = [context.Process(target=_writes, args=(str(path), start)) for start in (0, 1)]
    for one in both:
        one.start()
    for one in both:
        one.join()
    assert [one.exitcode for one in both] == [0, 0]
    with Kept(path) as kept:
        assert len(kept.get("standing", ITEMS)) == 200


def test_one_that_holds_the_file_does_not_stop_another(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    filled(path)
    monkeypatch.setattr(index_db, "_PATIENCE", 0.05)
    holder = sqlite3.connect(path, isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    with Kept(path) as kept:
        assert kept.get("standing", ITEMS) == ITEMS
        kept.put("standing", {"a" * 40: {}})  # cannot be kept now, and that is no error
    holder.execute("ROLLBACK")
    holder.close()
    assert answers(path) == ITEMS


def together(count: int, work: Callable[[int], Any]) -> list[Any]:
    """What threads that begin at one moment give back; an error of one is the test's."""
    ready = threading.Barrier(count)

    def one(number: int) -> Any:
        ready.wait()
        return work(number)

    with ThreadPoolExecutor(count) as pool:
        return list(pool.map(one, range(count)))


def test_threads_share_one_and_begin_nothing_anew(path: Path) -> None:
    filled(path)
    file = path.stat().st_ino
    with Kept(path) as kept:

        def use(number: int) -> dict[str, Any]:
            for turn in range(20):
                kept.put(f"of {number}", {str(turn): turn})
                assert kept.get("standing", ITEMS) == ITEMS
            return kept.get(f"of {number}", map(str, range(20)))

        assert together(8, use) == [{str(turn): turn for turn in range(20)}] * 8
        assert kept.get("standing", ITEMS) == ITEMS
    assert path.stat().st_ino == file


def test_what_was_closed_is_opened_again(path: Path) -> None:
    with Kept(path) as kept:
        together(4, lambda number: kept.put("standing", ITEMS))
        assert kept.get("standing", ITEMS) == ITEMS
    assert kept.get("standing", ITEMS) == ITEMS  # closed, and opened again when asked
    kept.close()


def test_damage_found_by_one_thread_is_begun_anew_once_for_all(path: Path) -> None:
    filled(path)
    with Kept(path) as earlier, Kept(path) as kept:
        assert earlier.get("standing", ITEMS) == ITEMS
        path.write_bytes(b"a letter to a customer\n" * 3000)
        for ending in ("-wal", "-shm"):
            Path(f"{path}{ending}").unlink(missing_ok=True)
        together(8, lambda number: kept.put("standing", ITEMS))
        assert kept.get("standing", ITEMS) == earlier.get("standing", ITEMS) == ITEMS
        file = path.stat().st_ino
    assert answers(path) == ITEMS
    assert path.stat().st_ino == file


# The primary result codes of errors, in their order from 1 to 26: https://www.sqlite.org/rescode.html
CODES = [
    "ERROR", "INTERNAL", "PERM", "ABORT", "BUSY", "LOCKED", "NOMEM",
    "READONLY", "INTERRUPT", "IOERR", "CORRUPT", "NOTFOUND", "FULL", "CANTOPEN",
    "PROTOCOL", "EMPTY", "SCHEMA", "TOOBIG", "CONSTRAINT", "MISMATCH", "MISUSE",
    "NOLFS", "AUTH", "FORMAT", "RANGE", "NOTADB",
]  # fmt: skip


@pytest.mark.parametrize("name", CODES)
def test_only_damage_deletes_the_file(
    name: str, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """READONLY of a file that the disk lets us write is what its own header says."""
    filled(path)
    file = path.stat().st_ino

    class Failing:
        def execute(self, *_: object) -> Any:
            error = sqlite3.OperationalError("as SQLite would say")
            error.sqlite_errorcode = CODES.index(name) + 1
            raise error

    with Kept(path) as kept:
        opened = Kept._open
        monkeypatch.setattr(Kept, "_open", lambda self: opened(self) and Failing())
        kept.get("standing", ITEMS)
    gone = not path.exists() or path.stat().st_ino != file
    expected = {"CORRUPT", "ERROR", "FORMAT", "NOTADB", "READONLY"}
    assert gone == (name in expected)


def test_the_place_follows_the_users_settings(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BUILDLOG_CACHE", "/somewhere/else")
    assert index_db.folder() == Path("/somewhere/else")
    monkeypatch.delenv("BUILDLOG_CACHE")
    monkeypatch.setenv("XDG_CACHE_HOME", "/var/caches")
    assert index_db.folder() == Path("/var/caches/buildlog")


def test_a_digest_covers_kind_and_key() -> None:
    body = json.dumps({"n": 1}).encode()
    digest = index_db._digest("standing", "a", body)
    assert digest != index_db._digest("standing", "b", body)
    assert digest != index_db._digest("spans", "a", body)
