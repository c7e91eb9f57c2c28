"""The states a power cut can leave, by strict rules, at every call that changes the disk.

A file's bytes are there only if the file was forced; a name in a folder only if that folder was
forced afterwards (POSIX, rationale of fsync; fsync(2) of Linux: a folder needs a call of its own).
Of what was not forced, nothing at all has come to the disk (the strictest state), or all names
have and no bytes (a state that file systems are known to leave).
"""

from __future__ import annotations

import os
import shutil
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from buildlog.store.verify.verdict import verify_folder
from tests.attack.worlds import ACTS, call, copied, entries, prepared

pytestmark = pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="reads /proc")
MOST = 6  # states of one command that the short set tries


@dataclass
class Disk:
    """What is on the disk for certain, and what would be if nothing were cut short."""

    root: Path
    certain: dict[str, bytes | None] = field(default_factory=dict)  # a folder is None
    events: list[tuple[dict[str, bytes | None], dict[str, bytes | None]]] = field(
        default_factory=list
    )
    forced: dict[int, bytes] = field(default_factory=dict)  # inode -> the bytes it was forced with

    def look(self) -> dict[str, tuple[int, bytes | None]]:
        found: dict[str, tuple[int, bytes | None]] = {}
        for path in self.root.rglob("*"):
            data = None if path.is_dir() else path.read_bytes()
            found[path.relative_to(self.root).as_posix()] = (path.stat().st_ino, data)
        return found

    def begin(self) -> None:
        for name, (inode, data) in self.look().items():
            self.certain[name] = data
            if data is not None:
                self.forced[inode] = data

    def force(self, handle: int) -> None:
        place = Path(os.readlink(f"/proc/self/fd/{handle}"))
        if place.is_dir():
            self._names(place)
        elif place.exists():
            self.forced[os.fstat(handle).st_ino] = place.read_bytes()
            name = self._name(place)
            if name in self.certain:
                self.certain[name] = self.forced[os.fstat(handle).st_ino]

    def _name(self, place: Path) -> str:
        return place.relative_to(self.root).as_posix() if place != self.root else ""

    def _names(self, folder: Path) -> None:
        """A folder was forced: the names in it are as they are now."""
        if not folder.is_relative_to(self.root):
            return
        inside = {self._name(path): path for path in folder.iterdir()}
        prefix = f"{self._name(folder)}/" if folder != self.root else ""
        for name in list(self.certain):
            here = name.removeprefix(prefix) if name.startswith(prefix) else "/"
            if here.split("/")[0] and prefix + here.split("/")[0] not in inside:
                del self.certain[name]
        for name, path in inside.items():
            if path.is_dir():
                self.certain.setdefault(name, None)
            else:
                self.certain[name] = self.forced.get(path.stat().st_ino, b"")

    def note(self) -> None:
        """Keep the two states a cut at this moment may leave."""
        names = {name: (None if data is None else self.forced.get(inode, b""))
                 for name, (inode, data) in self.look().items()}  # fmt: skip
        self.events.append((dict(self.certain), names))


def moved(disk: Disk, old: Path, new: Path) -> None:
    """What lies in a folder that is renamed goes with it, once the new name is certain."""
    if new.is_dir() and old.is_relative_to(disk.root):
        start, end = disk._name(old), disk._name(new)
        for name in [one for one in disk.certain if one.startswith(f"{start}/")]:
            disk.certain[end + name.removeprefix(start)] = disk.certain[name]


def watched(disk: Disk, patch: pytest.MonkeyPatch) -> None:
    fsync = os.fsync

    def forcing(handle: int) -> None:
        disk.note()
        fsync(handle)
        disk.force(handle)
        disk.note()

    def naming(real: Any) -> Any:
        def call_(old: Any, new: Any, **more: Any) -> None:
            real(old, new, **more)
            moved(disk, Path(os.fsdecode(old)), Path(os.fsdecode(new)))
            disk.note()

        return call_

    patch.setattr(os, "fsync", forcing)
    for name in ("replace", "rename"):
        patch.setattr(os, name, naming(getattr(os, name)))


def laid_out(state: dict[str, bytes | None], place: Path) -> Path:
    shutil.rmtree(place, ignore_errors=True)
    place.mkdir()
    for name, data in sorted(state.items()):
        path = place / name
        if any(str(above.relative_to(place)) not in state for above in list(path.parents)
               if above.is_relative_to(place) and above != place):  # fmt: skip
            continue  # its folder's own name is not on the disk
        if data is None:
            path.mkdir(exist_ok=True)
        else:
            path.write_bytes(data)
    return place


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return prepared(tmp_path_factory.mktemp("cut") / "world")


@pytest.mark.parametrize("whole", [False, pytest.param(True, marks=pytest.mark.long)])
@pytest.mark.parametrize("act", [
    pytest.param(name, marks=[pytest.mark.long] * (name == "handover"))  # the slowest
    for name in ACTS if name != "pack"
])  # fmt: skip
def test_a_power_cut_loses_nothing_that_was_reported(world: Path, act: str, whole: bool) -> None:
    before = {name: set(entries(world / name)) for name in ("car", "copy")}
    place = copied(world, f"cut-{act}")
    disk = Disk(place)
    disk.begin()
    with pytest.MonkeyPatch.context() as patch:
        watched(disk, patch)
        at, arguments = ACTS[act](place)
        assert call(at, *arguments).status == 0
    disk.note()
    after = {name: set(entries(place / name)) for name in before}
    step = 1 if whole else max(1, len(disk.events) // MOST)
    states: Counter[str] = Counter()
    picked = [*disk.events[::step], disk.events[-1]]
    for number, event in enumerate(picked):
        for word, state in zip(("forced alone", "names without bytes"), event, strict=True):
            target = laid_out(state, world.with_name("state"))
            least = after if number == len(picked) - 1 else before
            for name in before:
                assert least[name] <= set(entries(target / name)), (act, number, word, name)
                found = verify_folder(target / name)
                assert found.verdict == "consistent", (act, number, word, found.findings)
            if number == len(picked) - 1 and word == "forced alone":
                _made(act, target)
            states[word] += 1
    print(act, len(disk.events), "moments:", dict(states))


def _made(act: str, target: Path) -> None:
    """What was reported as made is there, whole, by what was forced alone."""
    if act == "new":
        assert call(target / "another", "check").status in (0, 1)
    elif act == "receive":
        assert verify_folder(target / "next").verdict == "consistent"
    elif act == "handover":
        for name in ("out", "out.zip"):
            assert call(target, "verify", name).status in (0, 1), name
    elif act == "attach":
        assert (target / "car/attachments/note.txt").read_bytes()


@pytest.mark.parametrize("act", ["record", "receive", "handover", "attach"])
def test_a_folder_that_is_not_forced_would_be_noticed(
    world: Path, act: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The model itself: without the calls for folders, what was reported is not on the disk."""
    place = copied(world, f"planted-{act}")
    disk = Disk(place)
    disk.begin()
    with monkeypatch.context() as patch:
        watched(disk, patch)
        _never_forces_folders(disk, patch)
        at, arguments = ACTS[act](place)
        assert call(at, *arguments).status == 0
    disk.note()
    target = laid_out(disk.events[-1][0], world.with_name("state"))
    new = set(entries(place / "car")) - set(entries(world / "car"))
    paths = {"record": [], "receive": ["next/car.toml"], "handover": ["out/bagit.txt"],
             "attach": ["car/attachments/note.txt"]}[act]  # fmt: skip
    lost = [path for path in paths if not (target / path).exists()]
    assert lost or not new <= set(entries(target / "car"))


def _never_forces_folders(disk: Disk, patch: pytest.MonkeyPatch) -> None:
    force = disk.force

    def files_alone(handle: int) -> None:
        if not Path(os.readlink(f"/proc/self/fd/{handle}")).is_dir():
            force(handle)

    patch.setattr(disk, "force", files_alone)
