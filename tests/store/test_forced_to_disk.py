"""What was reported as done is on the disk: each file before it gets its name, then its folder.

A rename that only lives in memory is lost with the power (POSIX, rationale of fsync; the manual
page fsync(2) says that a file's folder needs a call of its own).
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from buildlog.store.disk import atomic
from buildlog.store.exchange import bundle, passing_on
from buildlog.store.git.message import EntryFacts
from buildlog.store.ledger import session_files
from buildlog.store.ledger.ledger import Ledger
from tests.histories import CAR, PULL, SESSION, next_recorder, usual

Step = tuple[str, Path, Path]


@pytest.fixture
def calls(forced: None, monkeypatch: pytest.MonkeyPatch) -> list[Step]:
    """("forced", path, path) and ("named", from, to), in the order in which they happen."""
    found: list[Step] = []
    fsync = os.fsync

    def forced(handle: int) -> None:
        fsync(handle)
        place = Path(os.readlink(f"/proc/self/fd/{handle}"))
        found.append(("forced", place, place))

    def naming(real: Callable[..., None]) -> Callable[..., None]:
        def named(old: Any, new: Any, **more: Any) -> None:
            real(old, new, **more)
            found.append(("named", Path(os.fsdecode(old)), Path(os.fsdecode(new))))

        return named

    monkeypatch.setattr(os, "fsync", forced)
    for name in ("replace", "rename"):
        monkeypatch.setattr(os, name, naming(getattr(os, name)))
    return found


def unforced(calls: list[Step]) -> Iterator[str]:
    """What would be lost with the power: names in folders, and content of files."""
    for at, (what, old, new) in enumerate(calls):
        if what != "named":
            continue
        after = {place.resolve() for word, place, _ in calls[at:] if word == "forced"}
        before = {place for word, place, _ in calls[:at] if word == "forced"}
        if new.parent.resolve() not in after:
            yield f"the folder of {new.name}"
        if new.is_file() and old not in before:
            yield f"the content of {new.name}"


def replaced(place: Path) -> None:
    atomic.replace(place / "car.toml", b"new")


def replaced_from_elsewhere(place: Path) -> None:
    atomic.replace(place / "deep/car.toml", b"new", spool=place / "spool")


def locked(place: Path) -> None:
    atomic.Locked(place / "HEAD").put(b"new")


def recorded(place: Path) -> None:
    (place / "car/car.toml").write_text(CAR.replace("9.2", "8.5"))
    with Ledger.open(place / "car") as ledger:
        ledger.record(EntryFacts("x", stage="stage-2"), next_recorder(ledger))


def written(place: Path) -> None:
    with Ledger.open(place / "car") as ledger:
        ledger.write_working("priors.toml", b"format = 1\n")


def filed(place: Path) -> None:
    with Ledger.open(place / "car") as ledger:
        files = {"pull-1.csv": PULL}
        session_files.write_session(ledger, "2026-03-14", files, SESSION.encode(), None)
        more = SESSION.encode() + b"\n"
        files = {"pull-2.csv": PULL}
        session_files.write_session(ledger, "2026-03-14", files, more, SESSION.encode())


def received(place: Path) -> None:
    with Ledger.open(place / "car") as ledger:
        sent = bundle.read(bundle.write(ledger.repo, bundle.references(ledger.repo)))
    passing_on.receive(passing_on.Package(sent), place / "got", lambda got: None)


def packed(place: Path) -> None:
    passing_on.write(place / "package", {"a.txt": b"x", "b/c.txt": b"y"})


ACTS = [replaced, replaced_from_elsewhere, locked, recorded, written, filed, received, packed]


@pytest.mark.skipif(
    not Path("/proc/self/fd").is_dir(), reason="tells a handle's path on Linux only"
)
@pytest.mark.parametrize("act", ACTS)
def test_every_file_and_its_folder_are_forced_to_the_disk(
    act: Callable[[Path], None], tmp_path: Path, calls: list[Step]
) -> None:
    usual(tmp_path / "car").close()
    calls.clear()
    act(tmp_path)
    assert any(word == "named" for word, _, _ in calls)
    assert list(unforced(calls)) == []
