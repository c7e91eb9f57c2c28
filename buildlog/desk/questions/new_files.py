"""What stands in the working folder and is not recorded yet, by what it is: a session with its
pulls, a list, a joint, a sheet, a fault, an attachment."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field

from buildlog.errors import BuildlogError
from buildlog.records.toml.toml_read import parse_toml
from buildlog.store.git import ledger_files
from buildlog.store.ledger.names import WORKING
from buildlog.store.ledger.reader import Reader

_WORDS = {"check": "list", "torque": "joint", "torque-sheet": "torque sheet", "fault": "fault",
          "list": "list of the shop", "attachment": "attachment"}  # fmt: skip
_TITLES = ("title", "joint", "symptom", "closes", "list", "name")


@dataclass(frozen=True)
class NewThing:
    """One thing that is not recorded: its name, what it is in words, its files.

    `back`: a recorded session's file that was changed for it, with the text that is recorded.
    """

    name: str
    kind: str
    title: str
    paths: tuple[str, ...]
    back: dict[str, bytes] = field(default_factory=dict)

    @property
    def words(self) -> str:
        """ "session, 4 files", "fault: belt squeals"."""
        many = f", {len(self.paths)} files" if len(self.paths) > 1 else ""
        title = f": {self.title}" if self.title else ""
        return f"{self.kind}{title}{many}"


def new_files(ledger: Reader) -> list[NewThing]:
    """Everything that could be taken out again, by path."""
    return sorted(_found(ledger), key=lambda one: one.paths[0])


def _found(ledger: Reader) -> Iterator[NewThing]:
    entries = ledger.entries()
    recorded = ledger.files(entries[-1]) if entries else {}
    sessions: dict[str, list[str]] = {}
    working = ledger.working().files
    for path in sorted(working):
        kind = ledger_files.kind_of(path)
        if path in recorded:
            continue
        if session := ledger_files.session_of(path):
            sessions.setdefault(session, []).append(path)
        elif kind in _WORDS:
            name = path if kind == "attachment" else path.split("/")[1].removesuffix(".toml")
            title = "" if kind == "attachment" else _title(ledger, path)
            beside = f"{path}{ledger_files.CAPTION}"
            told = (beside,) if beside in working and beside not in recorded else ()
            yield NewThing(name, _WORDS[kind], title, (path, *told))
    for session, paths in sessions.items():
        own = f"dyno/{session}/session.toml"
        changed = own in recorded and working.get(own) != recorded[own]
        back = {own: ledger.read(entries[-1], own)} if changed else {}
        what = "pulls added to the session" if own in recorded else "session"
        yield NewThing(session, what, "", tuple(paths), back)


def _title(ledger: Reader, path: str) -> str:
    with suppress(BuildlogError):
        values = parse_toml(ledger.read(WORKING, path), path)
        return next((f"{values[key]}" for key in _TITLES if values.get(key)), "")
    return ""
