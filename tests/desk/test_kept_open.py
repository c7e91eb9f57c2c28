"""Ledgers that are kept open between questions: few files of theirs are held, all stay readable."""

from __future__ import annotations

import shutil
from pathlib import Path

from buildlog.desk.snapshot.kept_open import _AWAKE, KeptOpen
from buildlog.desk.snapshot.snapshot import Snapshot


def held(book: Snapshot) -> int:
    """Packs whose files are open."""
    return len(book.ledger.repo.objects._pack_cache)


def text(book: Snapshot) -> bytes:
    return book.ledger.read(book.ledger.resolve("baseline"), "car.toml")


def test_a_newer_snapshot_lets_go_of_the_files_of_the_older_which_still_answers(
    demo_copy: Path,
) -> None:
    kept = KeptOpen()
    older = kept.snapshot(demo_copy)
    before = text(older)
    assert held(older) > 0
    car = demo_copy / "car.toml"
    car.write_bytes(car.read_bytes() + b"# looked at again\n")
    newer = kept.snapshot(demo_copy)
    assert newer is not older
    assert held(older) == 0
    assert text(older) == before == text(newer)
    kept.close()


def test_of_many_cars_the_last_few_hold_files_and_all_answer(demo: Path, tmp_path: Path) -> None:
    places = [tmp_path / f"car-{number}" for number in range(_AWAKE + 3)]
    kept = KeptOpen()
    books = []
    for place in places:
        shutil.copytree(demo, place)
        books.append(kept.snapshot(place))
        text(books[-1])
    assert [held(book) > 0 for book in books] == [False] * 3 + [True] * _AWAKE
    assert len({text(book) for book in books}) == 1
    kept.close()
