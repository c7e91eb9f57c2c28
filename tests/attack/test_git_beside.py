"""A plain git that tidies up, clones and fetches beside us takes nothing and alters nothing."""

from __future__ import annotations

import subprocess
import threading
from pathlib import Path

import pytest

from buildlog.store.git import packs
from buildlog.store.git.message import EntryFacts
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.verify.verdict import verify_folder
from tests.attack.worlds import call, done, entries
from tests.histories import CAR, git, history, next_recorder, usual

TIDYING = (
    ("gc", "-q"), ("gc", "-q", "--prune=now"), ("repack", "-a", "-d", "-q"),
    ("prune", "--expire=now"), ("pack-refs", "--all"),
)  # fmt: skip


def beside(folder: Path, stop: threading.Event, seen: list[str]) -> None:
    while not stop.is_set():
        for arguments in TIDYING:
            subprocess.run(["git", "-C", str(folder), *arguments], capture_output=True, check=False)
            seen.append(arguments[0])


@pytest.mark.parametrize("count", [40, pytest.param(200, marks=pytest.mark.long)])
def test_records_beside_a_git_that_prunes(tmp_path: Path, count: int) -> None:
    with history(tmp_path / "car") as ledger:
        stop, seen = threading.Event(), list[str]()
        thread = threading.Thread(target=beside, args=(ledger.folder, stop, seen))
        thread.start()
        made = []
        try:
            for number in range(count):
                text = CAR.replace("1994", str(1900 + number % 99)) + f"# {number}\n"
                (ledger.folder / "car.toml").write_text(text)
                made.append(ledger.record(EntryFacts(f"n {number}"), next_recorder(ledger)).id)
        finally:
            stop.set()
            thread.join()
    assert set(made) <= set(entries(tmp_path / "car"))
    assert verify_folder(tmp_path / "car").verdict == "consistent"
    git(tmp_path / "car", "fsck", "--full", "--strict", "--no-dangling")
    assert len(seen) > len(TIDYING)
    print(count, "records,", len(seen), "calls of git")


def test_small_packs_are_gathered_and_nothing_is_left_out(tmp_path: Path) -> None:
    with usual(tmp_path / "car") as ledger:
        for number in range(2 * packs.MANY):
            (ledger.folder / "car.toml").write_text(CAR + f"# {number}\n")
            ledger.record(EntryFacts(f"n {number}"), next_recorder(ledger))
    held = list((tmp_path / "car/.git/objects/pack").glob("*.pack"))
    assert len(held) <= packs.MANY + 1
    assert verify_folder(tmp_path / "car").verdict == "consistent"


def test_an_object_s_keep_is_there_before_its_pack(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    order: list[str] = []
    replace = packs.atomic.replace

    def noted(path: Path, data: bytes, **more: object) -> None:
        order.append(path.suffix)
        replace(path, data, **more)  # type: ignore[arg-type]

    with usual(tmp_path / "car") as ledger:
        monkeypatch.setattr(packs.atomic, "replace", noted)
        (ledger.folder / "car.toml").write_text(CAR + "# more\n")
        ledger.record(EntryFacts("more"), next_recorder(ledger))
    assert order[:3] == [".keep", ".pack", ".idx"]


@pytest.mark.parametrize("what", ["clone", "worktree", "fetch", "other names"])
def test_what_git_leaves_is_not_altered(tmp_path: Path, what: str) -> None:
    usual(tmp_path / "car").close()
    car, looked_at = tmp_path / "car", tmp_path / "car"
    if what == "clone":
        looked_at = tmp_path / "clone"
        git(tmp_path, "clone", "-q", str(car), "clone")
    elif what == "worktree":
        git(car, "worktree", "add", "-q", "../beside", "-b", "beside")
        told = call(tmp_path, "verify", "beside")
        assert told.status == 3
        assert "second work tree" in told.err
    elif what == "fetch":
        git(tmp_path, "clone", "-q", str(car), "clone")
        git(car, "remote", "add", "copy", "../clone")
        git(car, "fetch", "-q", "copy")
        git(car, "remote", "set-head", "copy", "main")
    else:
        git(car, "tag", "mine")
        git(car, "stash", "list")
        (car / ".git/refs/torn").write_text("no id\n")
    found = verify_folder(looked_at)
    assert found.verdict == "consistent"
    assert [one for one in found.findings if one.severity == "error"] == []
    if what == "other names":
        notes = [one.text for one in found.findings if one.code == "reference"]
        assert notes == [f"{name} is no name that a ledger uses"
                         for name in ("refs/tags/mine", "refs/torn")]  # fmt: skip
    assert done(looked_at, "history")


def test_pack_keeps_what_nothing_leads_to(tmp_path: Path) -> None:
    usual(tmp_path / "car").close()
    car = tmp_path / "car"
    stray = git(car, "commit-tree", "HEAD^{tree}", "-p", "HEAD", "-m", "stray").strip()
    for program in (True, False):
        with pytest.MonkeyPatch.context() as patch:
            if not program:
                patch.setattr("buildlog.store.verify.repacking.program", lambda _: None)
            done(car, "pack")
        assert git(car, "cat-file", "-t", stray).strip() == "commit"
    with Ledger.open(car) as ledger:
        assert len(ledger.entries()) == 3
