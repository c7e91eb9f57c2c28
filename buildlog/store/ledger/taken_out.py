"""What was taken out of a folder before it was recorded: kept for a week in the state folder.

Each time has a folder of its own: the files by number, and `kept.json` that names them, the last
to be written.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import hashlib
import json
import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from buildlog.store.disk import atomic
from buildlog.store.disk.user_folders import state_folder

DAYS = 7
_NOTE = "kept.json"


@dataclass(frozen=True)
class TakenOut:
    """Files that were taken out at once: a name for them, when, their paths, where they lie.

    `instead`: what stands in the folder now for those of them that were changed, and not new.
    """

    name: str
    when: dt.datetime
    paths: tuple[str, ...]
    place: Path
    instead: Mapping[str, str]  # path to digest

    def data(self, path: str) -> bytes:
        """The bytes of one of the files."""
        return (self.place / str(self.paths.index(path))).read_bytes()


def digest(data: bytes) -> str:
    """What tells one text from another."""
    return hashlib.sha256(data).hexdigest()


def keep(
    folder: Path, files: Mapping[str, bytes], instead: Mapping[str, bytes], now: dt.datetime
) -> TakenOut:
    """Files of a ledger's folder laid by, forced to the disk before this returns."""
    home = _home(folder)
    _sweep(home, now)
    number = 1
    while (place := home / f"{now:%Y-%m-%d}-{number}").exists():
        number += 1
    atomic.make_folder(place)
    for index, data in enumerate(files.values()):
        atomic.replace(place / str(index), data)
    told = {path: digest(data) for path, data in instead.items()}
    note = {"format": "buildlog/discarded/1", "folder": str(folder), "when": now.isoformat(),
            "paths": [*files], "instead": told}  # fmt: skip
    atomic.replace(place / _NOTE, json.dumps(note, indent=1).encode())
    return TakenOut(place.name, now, tuple(files), place, told)


def kept(folder: Path) -> list[TakenOut]:
    """What was taken out of a ledger's folder and is still kept, oldest first."""
    home = _home(folder)
    found = [_read(place) for place in home.iterdir()] if home.is_dir() else []
    return sorted((one for one in found if one), key=lambda one: (one.when, one.name))


def forget(one: TakenOut) -> None:
    """Nothing of it is kept any longer; its note goes first, so that none names what is gone."""
    with contextlib.suppress(OSError):
        (one.place / _NOTE).unlink()
        shutil.rmtree(one.place, ignore_errors=True)


def _home(folder: Path) -> Path:
    return state_folder() / "discarded" / digest(str(folder.resolve()).encode())[:16]


def _sweep(home: Path, now: dt.datetime) -> None:
    """What is older than a week goes; what was half laid by goes with it."""
    for place in home.iterdir() if home.is_dir() else ():
        one = _read(place)
        if one is None or now - one.when > dt.timedelta(days=DAYS):
            shutil.rmtree(place, ignore_errors=True)


def _read(place: Path) -> TakenOut | None:
    try:
        note = json.loads((place / _NOTE).read_bytes())
        when = dt.datetime.fromisoformat(note["when"])
        return TakenOut(place.name, when, tuple(note["paths"]), place, note.get("instead", {}))
    except (OSError, ValueError, KeyError, TypeError):
        return None
