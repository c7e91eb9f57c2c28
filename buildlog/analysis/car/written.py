"""What an act left in the working files and how it is recorded; what was done with a plan; what an
entry would hold, and what was recorded."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from buildlog.analysis.car.changes import Change
from buildlog.findings import Finding
from buildlog.records.paths import Value


@dataclass(frozen=True)
class RecordWith:
    """What `record` is to be told of something written: a message that fits, and the rest."""

    message: str
    kind: str | None = None
    odometer: str | None = None
    corrects: int | None = None
    resolves: int | None = None

    @property
    def line(self) -> str:
        """The line to type."""
        words = f'buildlog record -m "{self.message}"'
        words += f" --kind {self.kind}" if self.kind else ""
        words += f' --odometer "{self.odometer}"' if self.odometer else ""
        words += f" --corrects {self.corrects}" if self.corrects else ""
        return words + (f" --resolves {self.resolves}" if self.resolves else "")


@dataclass(frozen=True)
class Written:
    """Files of the working folder that an act wrote, and what there is to say of them."""

    paths: tuple[str, ...]
    record: RecordWith
    findings: tuple[Finding, ...] = field(default=(), kw_only=True)


@dataclass(frozen=True)
class FieldsSet(Written):
    """Fields of car.toml that are physically different now: path, was, is."""

    changed: tuple[tuple[str, Value | None, Value | None], ...]
    was_valid: bool


@dataclass(frozen=True)
class WorkAdded(Written):
    """An item of the car's work, new or with another note."""

    item: str
    note: str | None


@dataclass(frozen=True)
class Attached(Written):
    """Copies below attachments; `left_out` says of each what was left out of the copy. `caption`:
    the file that holds the caption of the one photo, where one was given."""

    left_out: tuple[tuple[str, ...], ...]
    caption: str | None = None


@dataclass(frozen=True)
class Redaction:
    """A file outside that was deleted on request, and the entry that says so.

    `deleted` is False where it was not in this user's place any more.
    """

    path: str
    file: str
    sha256: str
    deleted: bool
    entry: int
    id: str


@dataclass(frozen=True)
class OwnThings:
    """What a shop has of its own beside its ledgers, copied to a folder.

    `left_out`: what never leaves, and why.
    """

    folder: Path
    files: tuple[str, ...]
    left_out: tuple[str, ...]


@dataclass(frozen=True)
class PlanMade:
    """A new plan: the version it was made from, and the entry that this rests on."""

    name: str
    origin: str
    number: int
    entry: str


@dataclass(frozen=True)
class PlanSet:
    """Fields of a plan that are physically different now: path, was, is."""

    name: str
    changed: tuple[tuple[str, Value | None, Value | None], ...]


@dataclass(frozen=True)
class PlanAdopted(Written):
    """Fields of the working car.toml that a plan gave it; None: removed."""

    name: str
    taken: Mapping[str, Value | None]


@dataclass(frozen=True)
class PlanDropped:
    """A plan that is gone, and the commit it was at."""

    name: str
    commit: str


@dataclass(frozen=True)
class Outlook:
    """What an entry would record: its kind, its mechanical changes, its new files.

    `odometer` and `day` are those that the new files state, until the entry itself says more.
    """

    kind: str
    changes: tuple[Change, ...]
    sessions: tuple[str, ...]
    added: tuple[str, ...]
    changed: tuple[str, ...]
    first: bool
    findings: tuple[Finding, ...]
    measured: str | None = None
    odometer: str | None = None
    day: dt.date | None = None
    subject: str = ""


@dataclass(frozen=True)
class EntryMade:
    """An entry that was recorded, by number and whole id."""

    number: int
    id: str
    kind: str
    subject: str
    signed: bool


@dataclass(frozen=True)
class Recorded:
    """What `record` looked at, and the entry; None where it only looked.

    `shop_named` says whether the user's settings name a shop.
    """

    outlook: Outlook
    entry: EntryMade | None
    shop_named: bool


@dataclass(frozen=True)
class KeyEntered:
    """A key that was entered: under which name, with which fingerprint.

    `settings` is the file to name the key in where none is named yet.
    """

    entry: EntryMade
    name: str
    fingerprint: str
    settings: str | None


@dataclass(frozen=True)
class KeyState:
    """A key of the register: why it is no longer in use, and how many entries it signed."""

    name: str
    fingerprint: str
    gone: str | None
    signed: int
