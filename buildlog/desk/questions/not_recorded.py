"""What stands in the working files and in no entry yet, thing by thing, with who wrote it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Literal

from buildlog.analysis.car.changes import Change, changes
from buildlog.analysis.car.sheet_book import ENDING
from buildlog.analysis.workshop.check_book import counted
from buildlog.desk.questions.day_books import sheets
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import BuildlogError
from buildlog.records.caption import PhotoCaption
from buildlog.records.car.due import Service
from buildlog.records.day_notes import OdometerReading, Waiting
from buildlog.records.reading import read
from buildlog.store.git.ledger_files import CAPTION
from buildlog.store.ledger.names import WORKING

Kind = Literal[
    "car", "list", "fault", "closing", "joint", "session", "odometer", "wait", "service", "file"
]


@dataclass(frozen=True)
class NotRecorded:
    """One thing: its files, what it is about, and who wrote it. `done` of `of`: how far a list
    was gone through, where it is one."""

    kind: Kind
    paths: tuple[str, ...]
    about: str
    by: tuple[str, ...] = ()
    done: int = 0
    of: int = 0

    @property
    def half_done(self) -> bool:
        """Whether it is a list with open items."""
        return self.done < self.of


def not_recorded(book: Snapshot) -> list[NotRecorded]:
    """Every thing that the next entry could hold: the car, then sessions, lists, joints, faults,
    other files."""
    found = list(_things(book))
    known = {path for one in found for path in one.paths}
    rest = [path for path in _differing(book) if path not in known]
    return [*found, *(_file(book, path, rest) for path in rest if not _tells_of(path, rest))]


def _file(book: Snapshot, path: str, rest: Sequence[str]) -> NotRecorded:
    """A file by its name; a photo by its caption, which goes with it."""
    told = f"{path}{CAPTION}"
    if told not in rest:
        return NotRecorded("file", (path,), path.rpartition("/")[2])
    caption = read(PhotoCaption, book.ledger.read(WORKING, told), told).caption
    return NotRecorded("file", (path, told), caption)


def _tells_of(path: str, rest: Sequence[str]) -> bool:
    return path.endswith(CAPTION) and path.removesuffix(CAPTION) in rest


def car_changes(book: Snapshot) -> list[Change]:
    """The fields of car.toml that differ from the newest entry; none before the first."""
    if not book.history:
        return []
    return changes(book.history[-1].configuration, book.working.configuration)


def _differing(book: Snapshot) -> list[str]:
    """The paths of files that are new, other than in the newest entry, or gone."""
    here = book.ledger.working().files
    then = book.ledger.files(book.entries[-1]) if book.entries else {}
    return sorted(path for path in here.keys() | then.keys() if here.get(path) != then.get(path))


def _things(book: Snapshot) -> Iterator[NotRecorded]:
    differing = _differing(book)
    if "car.toml" in differing:
        yield NotRecorded("car", ("car.toml",), "car.toml")
    sessions = sorted({path.split("/")[1] for path in differing if path.startswith("dyno/")})
    for name in sessions:
        paths = tuple(path for path in differing if path.startswith(f"dyno/{name}/"))
        yield NotRecorded("session", paths, name)
    for path in differing:
        folder, _, file = path.partition("/")
        made = _MADE.get(folder)
        if made is not None and file.endswith(".toml"):
            with suppress(BuildlogError):  # what cannot be read stays a file
                yield made(book, path, file.removesuffix(".toml"))


def _list(book: Snapshot, path: str, name: str) -> NotRecorded:
    check = book.check(name)
    done, of = counted(check)
    by = _people(item.by for item in check.item)
    return NotRecorded("list", (path,), check.title or check.list, by, done, of)


def _joint(book: Snapshot, path: str, name: str) -> NotRecorded:
    """A joint by itself, or a maker's sheet with how many of its joints are done."""
    if not name.endswith(ENDING):
        joint = book.joint(name)
        return NotRecorded("joint", (path,), joint.joint, _people([joint.by]))
    state = next(one for one in sheets(book.ledger) if name in one.files)
    by = _people(done.who for joint in state.joints for done in joint.done)
    return NotRecorded("joint", (path,), state.sheet.title, by, state.finished, len(state.joints))


def _fault(book: Snapshot, path: str, name: str) -> NotRecorded:
    fault = book.fault(name)
    about = fault.symptom or fault.remedy or fault.closes or name
    kind: Kind = "fault" if fault.state == "open" else "closing"
    return NotRecorded(kind, (path,), about, _people([fault.by]))


def _reading(book: Snapshot, path: str, name: str) -> NotRecorded:
    one = read(OdometerReading, book.ledger.read(WORKING, path), path)
    return NotRecorded("odometer", (path,), one.odometer.text, _people([one.who]))


def _wait(book: Snapshot, path: str, name: str) -> NotRecorded:
    one = read(Waiting, book.ledger.read(WORKING, path), path)
    return NotRecorded("wait", (path,), one.what or one.ends or name, _people([one.by]))


def _service(book: Snapshot, path: str, name: str) -> NotRecorded:
    one = read(Service, book.ledger.read(WORKING, path), path)
    return NotRecorded("service", (path,), one.what, _people([one.who]))


def _people(names: Iterable[str | None]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(name for name in names if name))


_MADE: dict[str, Callable[[Snapshot, str, str], NotRecorded]] = {
    "checks": _list, "torque": _joint, "faults": _fault, "readings": _reading, "waiting": _wait,
    "due": _service,
}  # fmt: skip
