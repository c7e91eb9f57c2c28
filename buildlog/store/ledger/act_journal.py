"""What makes an act on working files happen once, whoever is cut short: intents and outcomes.

A phone sends an act again until it is answered, so an act carries an id, and the answer of an id
is one for ever. `.git/buildlog/acts` holds a line for what is about to be done and one for what
came of it; it lies beside the history, in the folder that it speaks of, and no entry holds it.
All of it is read and written under the ledger's lock. Whoever takes the lock to write settles
the last intent first, the command line included: otherwise a later write hides whether the act
before it was done (in a model of 96,000 acts: 71 done twice, 89 lost).

The order: intent forced; file forced and moved; its folder forced; `done` appended, forced by
whatever writes next. A power cut before that leaves a file that says itself what came of it.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from buildlog.errors import BuildlogError, ChangedUnderYou
from buildlog.records.toml.toml_place import Place, held_text, values_at
from buildlog.store.disk import atomic
from buildlog.store.git.repo import LISTS

Word = Literal["done", "already", "question", "refused"]
JOURNAL = f"{LISTS}/acts"
AFTER = "after:"
_VOID = "void"  # never done, and may be tried again: no outcome
_CHECK = 16  # hexadecimal digits before each line
_LONGEST = 20_000  # characters of a value in a line; a longer one is known by its digest alone
_LARGE = 4 << 20  # bytes of a journal before what is old is forgotten
_REMEMBERED = 60  # days of use


@dataclass(frozen=True)
class ActMeant:
    """An act of a page: its id, what it says, and what the place it changes held on the screen.

    `old` is as `toml_place.value_at` says it, or "after:ID" for what another act left there; None
    of an act that only adds. `rests` is the act that the same browser last did at this place: its
    screen may have been drawn before that one, and who did it knows of it all the same.
    """

    id: str
    content: str = ""
    old: str | None = None
    rests: str = ""


@dataclass(frozen=True)
class ActOutcome:
    """What came of an act, the same for ever; `path` is the file that it changed or made."""

    word: Word
    said: str = ""
    path: str = ""
    old: str = ""
    now: str = ""


@dataclass(frozen=True)
class ActTrace:
    """What an act did: to which places of a file, what they held before (as `held_text` says it),
    whether it made the file, and the digest that it left."""

    path: str
    places: tuple[Place, ...]
    was: str
    made: bool
    after: str


class ActKnown(BuildlogError):
    """This act was sent before; what came of it then."""

    exit_status = 6

    def __init__(self, outcome: ActOutcome) -> None:
        super().__init__(f"this act was sent before: {outcome.word}")
        self.outcome = outcome


class AnotherValue(ChangedUnderYou):
    """What an act would change holds something else than was seen when it was meant."""

    def __init__(self, path: str, old: str, now: str) -> None:
        super().__init__(
            "this was changed meanwhile", where=path, hint="look at what it holds now, do it again"
        )
        self.path, self.old, self.now = path, old, now


class ActJournal:
    """The acts of one ledger. Everything here is called by who holds its lock.

    `leads_to(reference, commit)`: whether a branch leads to a commit.
    """

    def __init__(
        self, git: Path, folder: Path, leads_to: Callable[[str, str], bool] = lambda *_: False
    ) -> None:
        self._file = git / JOURNAL
        self._folder = folder
        self._leads_to = leads_to

    def settle(self) -> None:
        """Force what is known to the disk, and find out what came of an act that was cut short."""
        if not self._file.exists():
            return
        data = self._whole()
        with self._file.open("rb") as file:
            atomic.fsync(file.fileno())
        intent = _last_intent(data)
        if intent is not None:
            self._write([{"id": intent["id"], "path": intent["path"], **self._came_of(intent)}])

    def outcome(self, act: ActMeant) -> ActOutcome | None:
        """What came of an act with this id; a question where it said something else then."""
        found: ActOutcome | None = None
        for line in _of(self._read(), act.id):
            if line["is"] == "intent" and line["content"] != act.content:
                other = "another act was sent under the same id"
                return ActOutcome("question", other, line["path"])
            if line["is"] not in ("intent", _VOID):
                names = ("said", "path", "old", "now")
                found = ActOutcome(line["is"], *(line.get(name, "") for name in names))
        return found

    def seen(self, act: ActMeant, now: str) -> str:
        """What who meant an act knew of its place: `now`, if that is among what they knew."""
        if act.old is None:
            return now
        after = act.old.startswith(AFTER)
        old = (self._left_by(act.old.removeprefix(AFTER)) or "") if after else act.old
        return now if act.rests and self._left_by(act.rests) == now else old

    def _left_by(self, name: str) -> str | None:
        """What an act left at its place; None where it never came there. A phone does not know how
        its own act is written down."""
        left = None
        for line in _of(self._read(), name):
            if line["is"] == "intent":
                left = line["new"]
            elif line["is"] == "already":
                left = line["now"]
            elif line["is"] != "done":
                left = None
        return left

    def refuse_known(self, act: ActMeant) -> None:
        """ActKnown if there is an outcome."""
        if known := self.outcome(act):
            raise ActKnown(known)

    def intend(
        self, act: ActMeant, path: str, before: bytes | None, after: bytes | None,
        places: Sequence[Place] = (),
    ) -> None:  # fmt: skip
        """Write down, forced, that a file is about to become another; None: it is not there."""
        new = values_at(after, places) if places and after is not None else ""
        line = {"id": act.id, "is": "intent", "content": act.content, "path": path,
                "before": _digest(before), "after": _digest(after),
                "places": list(places), "new": new if len(new) < _LONGEST else "",
                "was": held_text(before or b"", places)[:_LONGEST]}  # fmt: skip
        self._write([line])

    def intend_move(self, act: ActMeant, reference: str, commit: str) -> None:
        """Write down, forced, that a branch is about to lead to a commit: an entry, a plan."""
        line = {"id": act.id, "is": "intent", "content": act.content, "path": reference,
                "commit": commit, "before": commit, "after": "", "places": [], "new": "",
                "was": ""}  # fmt: skip
        self._write([line])

    def undoable(self, name: str) -> ActTrace | None:
        """What an act did, that it may be undone; None where it was not done here."""
        lines = _of(self._read(), name)
        intents = [one for one in lines if one["is"] == "intent"]
        if not intents or not any(one["is"] == "done" for one in lines):
            return None
        one = intents[-1]
        return ActTrace(one["path"], tuple(one["places"]), one["was"], one["before"] == "",
                        one["after"])  # fmt: skip

    def end(self, act: ActMeant, outcome: ActOutcome) -> None:
        """Write down what came of it. What was done says so itself until the next write forces
        it; a refusal has left no trace, so it is forced before anybody hears of it."""
        line = {"id": act.id, "is": outcome.word, "content": act.content, "path": outcome.path,
                "said": outcome.said, "old": outcome.old[:_LONGEST],
                "now": outcome.now[:_LONGEST]}  # fmt: skip
        self._write([line], force=outcome.word != "done")

    def force_names(self, folder: Path) -> None:
        """Force a folder's names, and its own name in those above it."""
        while folder.is_dir() and folder.is_relative_to(self._folder):
            atomic.fsync_folder(folder)
            folder = folder.parent

    # inside

    def _came_of(self, intent: dict[str, Any]) -> dict[str, Any]:
        if commit := intent.get("commit"):
            return {"is": "done" if self._leads_to(intent["path"], commit) else _VOID}
        place = self._folder / intent["path"]
        data = place.read_bytes() if place.is_file() else None
        places, new = intent["places"], intent["new"]
        if _digest(data) == intent["after"] or (
            places and new and data is not None and values_at(data, places) == new
        ):
            self.force_names(place.parent)
            return {"is": "done"}
        if _digest(data) == intent["before"]:
            return {"is": _VOID}
        return {"is": "question", "said": "the file was changed while this act was cut short"}

    def _read(self) -> bytes:
        try:
            return self._file.read_bytes()
        except FileNotFoundError:
            return b""

    def _whole(self) -> bytes:
        """The lines; an end that a death tore off is cut away."""
        data = self._read()
        end = len(data)
        while end and _line(data[_start(data, end) : end]) is None:
            end = _start(data, end)
        if end < len(data):
            with self._file.open("r+b") as file:
                file.truncate(end)
                atomic.fsync(file.fileno())
        return data[:end]

    def _write(self, lines: Sequence[dict[str, Any]], *, force: bool = True) -> None:
        today = dt.date.today().isoformat()
        self._forget(today)
        is_new = not self._file.exists()
        atomic.make_folder(self._file.parent)
        with self._file.open("ab") as file:
            file.write(b"".join(_as_line({**line, "on": today}) for line in lines))
            file.flush()
            if force:
                atomic.fsync(file.fileno())
        if is_new:
            atomic.fsync_folder(self._file.parent)

    def _forget(self, today: str) -> None:
        """Leave out the oldest days of use, once a day and where there is much: days are counted
        as they were used, so that a clock set wrong makes nothing old."""
        if not self._file.exists() or os.stat(self._file).st_size < _LARGE:
            return
        lines = [line for line in map(_line, self._read().splitlines(keepends=True)) if line]
        if not lines or lines[-1]["on"] == today:
            return
        days = 0
        for place in range(len(lines) - 1, -1, -1):
            later = lines[place + 1]["on"] if place + 1 < len(lines) else None
            days += lines[place]["on"] != later
            if days > _REMEMBERED:
                atomic.replace(self._file, b"".join(map(_as_line, lines[place + 1 :])))
                return


def _last_intent(data: bytes) -> dict[str, Any] | None:
    """The last intent, where nothing is written of it after it."""
    end, later = len(data), set[str]()
    while end:
        start = _start(data, end)
        line = _line(data[start:end])
        if line and line["is"] == "intent":
            return None if line["id"] in later else line
        if line:
            later.add(line["id"])
        end = start
    return None


def _of(data: bytes, name: str) -> list[dict[str, Any]]:
    """The lines of one id, first to last."""
    found, at = [], data.find(name.encode())
    while at >= 0:
        end = data.find(b"\n", at) + 1 or len(data)
        line = _line(data[_start(data, end) : end])
        if line and line["id"] == name:
            found.append(line)
        at = data.find(name.encode(), end)
    return found


def _start(data: bytes, end: int) -> int:
    """Where the line that ends here begins."""
    return data.rfind(b"\n", 0, end - 1) + 1


def _as_line(line: dict[str, Any]) -> bytes:
    text = json.dumps(line, separators=(",", ":")).encode()
    return _checksum(text) + b" " + text + b"\n"


def _line(data: bytes) -> dict[str, Any] | None:
    check, _, text = data.rstrip(b"\n").partition(b" ")
    if not data.endswith(b"\n") or check != _checksum(text):
        return None
    found: dict[str, Any] = json.loads(text)
    return found


def _checksum(text: bytes) -> bytes:
    return hashlib.sha256(text).hexdigest()[:_CHECK].encode()


def digest_of(data: bytes) -> str:
    """What a file is known by in the journal."""
    return _digest(data)


def _digest(data: bytes | None) -> str:
    return "" if data is None else hashlib.sha256(data).hexdigest()
