"""The states a power cut can leave, by strict rules, at every call that changes the disk.

A file's bytes are there only if the file was forced; a name in a folder only if that folder was
forced afterwards (POSIX, rationale of fsync; fsync(2) of Linux: a folder needs a call of its own).
Of what was not forced, nothing at all has come to the disk (the strictest state), or all names
have and no bytes (a state that file systems are known to leave).
"""

from __future__ import annotations

import os
import re
import shutil
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from buildlog.store.verify import repacking
from buildlog.store.verify.verdict import verify_folder
from tests.attack.acts import Act
from tests.attack.cuts import ENDS, records
from tests.attack.taps import Tap
from tests.attack.worlds import copied, entries

_OF_NO_ACT = re.compile(r"\.git/|^cache/|^settings\.toml")  # or made again
WORDS = ("forced alone", "names without bytes")


@dataclass
class Disk:
    """What is on the disk for certain, and what would be if nothing were cut short."""

    root: Path
    left_alone: frozenset[str] = frozenset()  # folders at the top that the act does not touch
    every: int = 1  # how many calls lie between two moments that are looked at
    calls: int = 0
    certain: dict[str, bytes | None] = field(default_factory=dict)  # a folder is None
    events: list[tuple[dict[str, bytes | None], dict[str, bytes | None]]] = field(
        default_factory=list
    )
    forced: dict[int, bytes] = field(default_factory=dict)  # inode -> the bytes it was forced with
    read: dict[tuple[int, int, int], bytes] = field(default_factory=dict)

    def look(self) -> dict[str, tuple[int, bytes | None]]:
        found: dict[str, tuple[int, bytes | None]] = {}
        tops = [path for path in self.root.iterdir() if path.name not in self.left_alone]
        for top in tops:
            for path in (top, *top.rglob("*")):
                stat = path.stat()
                data = None if path.is_dir() else self._bytes(path, stat)
                found[path.relative_to(self.root).as_posix()] = (stat.st_ino, data)
        return found

    def _bytes(self, path: Path, stat: os.stat_result) -> bytes:
        key = (stat.st_ino, stat.st_mtime_ns, stat.st_size)
        if key not in self.read:
            self.read[key] = path.read_bytes()
        return self.read[key]

    def begin(self) -> None:
        for name, (inode, data) in self.look().items():
            self.certain[name] = data
            if data is not None:
                self.forced[inode] = data

    def force(self, handle: int) -> None:
        place = Path(os.readlink(f"/proc/self/fd/{handle}"))
        if place.is_dir():
            self._names(place)
        elif place.exists() and place.is_relative_to(self.root):
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
        inside = {self._name(path): path for path in folder.iterdir()
                  if self._name(path) not in self.left_alone}  # fmt: skip
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
        self.calls += 1
        if self.calls % self.every:
            return
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


class Powercuts:
    """All moments of one act at which the power is cut."""

    def __init__(self, world: Path, act: Act | Tap) -> None:
        self.world, self.act = world, act
        self.before = {name: set(entries(world / name)) for name in act.touches}
        place = copied(world, "watched")
        act.prepare(place)
        tops = {path.name for path in world.iterdir() if path.is_dir()}
        touched = {Path(name).parts[0] for name in act.touches}
        self.disk = Disk(place, frozenset(tops - touched - {"outside", "state"}))
        self.disk.every = 20 if act.slow else 1
        self.disk.begin()
        with pytest.MonkeyPatch.context() as patch:
            watched(self.disk, patch)
            patch.setattr(repacking, "program", lambda _: None)  # git's own calls are not seen
            said = act.run(place)
        assert said.status == 0, (act.name, said)
        self.disk.every = 1
        self.disk.note()
        self.after = {name: set(entries(place / name)) for name in act.touches}
        held = [path for path, (_, data) in self.disk.look().items() if data is not None]
        self.made = {path for path in held if not _OF_NO_ACT.search(path)}
        self._whole = records(place, act)
        shutil.rmtree(place)

    def points(self, most: int) -> list[int]:
        """So many moments, the last among them."""
        count = len(self.disk.events)
        return sorted({count - 1, *range(0, count, max(1, count // most))})

    def cut(self, number: int) -> None:
        """Both states that a cut at this moment may leave. AssertionError for what may not be."""
        last = number == len(self.disk.events) - 1
        for word, state in zip(WORDS, self.disk.events[number], strict=True):
            target = laid_out(state, self.world.with_name("state"))
            try:
                self._judged(target, self.after if last else self.before)
                if last and word == WORDS[0]:
                    self._all_made(target)
            except AssertionError as error:
                place = f"{self.act.name}, power cut at moment {number}, {word}"
                raise AssertionError(f"{place}: {error}") from error
            finally:
                shutil.rmtree(target)

    def _judged(self, target: Path, least: dict[str, set[str]]) -> None:
        for name, had in least.items():
            assert had <= set(entries(target / name)), f"an entry of {name} is lost"
            found = verify_folder(target / name)
            before_repair = self.act.command == "repair" and not entries(target / name)
            assert found.verdict == "consistent" or before_repair, (name, found.findings)

    def _all_made(self, target: Path) -> None:
        """What was reported as made is there, whole, by what was forced alone."""
        here = {path.relative_to(target).as_posix() for path in target.rglob("*")}
        missing = self.made - here
        assert not missing, f"reported as made, and not on the disk: {sorted(missing)[:3]}"
        assert records(target, self.act) == self._whole
        for path in target.iterdir():
            end = ENDS.get(path.suffix)
            assert end is None or end in path.read_bytes()[-20:], f"{path.name} is torn"
