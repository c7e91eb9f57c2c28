"""A history out of the index is the history that is in the ledger, whatever happened to either."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from buildlog.store.disk.index_db import Kept
from buildlog.store.ledger import entries, kept_history
from buildlog.store.ledger.ledger import Ledger
from tests.histories import git, usual


@pytest.fixture(autouse=True)
def short(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kept_history, "WORTH_KEEPING", 2)


@pytest.fixture
def index(tmp_path: Path) -> Path:
    return tmp_path / "index.sqlite"


def both(folder: Path, index: Path) -> None:
    """What the index helps to tell equals what the ledger holds."""
    with Ledger.open(folder) as ledger:
        tip = ledger.repo.tip()
        told = kept_history.history(ledger.repo, folder, tip, Kept(index))
        assert told == entries.history(ledger.repo, tip)
        assert told


def test_cold_warm_and_continued(tmp_path: Path, index: Path) -> None:
    folder = tmp_path / "tern"
    usual(folder).close()
    both(folder, index)
    both(folder, index)
    git(folder, "commit", "-q", "--allow-empty", "-m", "more")
    both(folder, index)
    both(folder, index)


def test_a_warm_history_reads_the_newest_commits_only(
    tmp_path: Path, index: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "tern"
    with usual(folder) as ledger:
        for number in range(8):
            git(folder, "commit", "-q", "--allow-empty", "-m", f"more {number}")
        tip = ledger.repo.tip()
        cold = kept_history.history(ledger.repo, folder, tip, Kept(index))
        read: list[str] = []
        real = ledger.repo.commit
        monkeypatch.setattr(ledger.repo, "commit", lambda name: (read.append(name), real(name))[1])
        assert kept_history.history(ledger.repo, folder, tip, Kept(index)) == cold
        assert len(read) == kept_history.WORTH_KEEPING


def test_another_ledger_in_the_same_place_is_not_mistaken(tmp_path: Path, index: Path) -> None:
    folder = tmp_path / "tern"
    usual(folder).close()
    both(folder, index)
    folder.rename(tmp_path / "old")
    from tests.histories import CAR, history, put, record

    history(
        folder,
        [put("car.toml", CAR), record("a"), put("car.toml", CAR + "# b\n"), record("b"),
         put("car.toml", CAR + "# c\n"), record("c")],
        nonce="77" * 16,
    ).close()  # fmt: skip
    both(folder, index)


def test_a_merge_since_is_read_anew(tmp_path: Path, index: Path) -> None:
    folder = tmp_path / "tern"
    usual(folder).close()
    both(folder, index)
    git(folder, "switch", "-q", "-c", "side", "main~1")
    git(folder, "commit", "-q", "--allow-empty", "-m", "beside")
    git(folder, "switch", "-q", "main")
    git(folder, "merge", "-q", "--no-ff", "-m", "joined", "side")
    both(folder, index)
    both(folder, index)


@pytest.mark.parametrize("seed", range(12))
def test_a_damaged_index_changes_nothing(tmp_path: Path, index: Path, seed: int) -> None:
    folder = tmp_path / "tern"
    usual(folder).close()
    both(folder, index)
    data = bytearray(index.read_bytes())
    chance = random.Random(seed)
    for _ in range(30):
        data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
    index.write_bytes(data if seed else data[:3000])
    both(folder, index)
    both(folder, index)


def test_rows_of_another_shape_are_read_anew(tmp_path: Path, index: Path) -> None:
    folder = tmp_path / "tern"
    usual(folder).close()
    with Kept(index) as kept:
        for body in ({"tip": None}, {"tip": "x", "entries": [[1, 2]]}, 7, {"entries": {}}):
            kept.put(kept_history._KIND, {str(folder): body})
            both(folder, index)
