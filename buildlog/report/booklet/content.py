"""What a booklet is made of, before any of it is put into words.

Everything here was read or worked out elsewhere. What is not known is absent (None or an
empty tuple), and then no line of the booklet speaks of it.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

from buildlog.analysis.answers.comparison import Diff
from buildlog.analysis.car.changes import Change
from buildlog.analysis.car.version import Version
from buildlog.analysis.margins.figures.margin_rows import Row
from buildlog.analysis.pulls.sheet import PullGroup, Sheet
from buildlog.analysis.workshop.due_book import DueState
from buildlog.analysis.workshop.fastener_book import JointState
from buildlog.analysis.workshop.fault_book import FaultState
from buildlog.analysis.workshop.gates import Gate
from buildlog.analysis.workshop.partlife import PartLife
from buildlog.findings import Finding
from buildlog.records.checks import Check
from buildlog.records.custody import Custody
from buildlog.records.paths import Value
from buildlog.records.plan import Plan
from buildlog.records.recorded_promise import RecordedPromise


@dataclass(frozen=True)
class Correction:
    """What a later entry put right: fields of car.toml or of a session, and what was written."""

    by: Version
    changes: tuple[Change, ...]
    where: str = "car.toml"


@dataclass(frozen=True)
class EntryStory:
    """One entry as it is told: its facts, its notes, what later corrected it, who signed it."""

    version: Version
    notes: str
    recorded_on: dt.date
    corrections: tuple[Correction, ...] = ()
    signed: str | None = None


@dataclass(frozen=True)
class DoneList:
    """A carried-out checklist and the entry that holds it."""

    name: str
    check: Check
    version: Version


@dataclass(frozen=True)
class StageStory:
    """From one stage to the next: what was done, what it did, what was looked at.

    `passed_over`: stages that lie between and are told with this one, as nobody measured them.
    """

    before: Version | None
    after: Version
    entries: tuple[EntryStory, ...]
    diff: Diff | None
    lists: tuple[DoneList, ...] = ()
    joints: tuple[JointState, ...] = ()
    faults: tuple[FaultState, ...] = ()
    righted: tuple[Change, ...] = ()  # in the records of earlier stages: no work on the car
    margins: tuple[tuple[Row | None, Row], ...] = ()  # before and after, tightest first
    passed_over: tuple[str, ...] = ()
    promise: RecordedPromise | None = None  # as stored with the quote

    @property
    def name(self) -> str:
        """The stage's name."""
        return self.after.name


@dataclass(frozen=True)
class DynoVisit:
    """A visit to a dyno: what was measured on which version, or why nothing can be said."""

    session: str
    version: Version
    sheet: Sheet | None
    group: PullGroup | None
    problem: str | None = None


@dataclass(frozen=True)
class FieldRow:
    """A value in the car now, and the entry that gave it."""

    path: str
    value: Value
    since: Version | None


@dataclass(frozen=True)
class CalibrationStory:
    """One calibration: which file, from which entry to which, on which sessions."""

    id: str
    file: str | None
    sha256: str | None
    author: str | None
    verification_number: str | None
    first: Version | None
    last: Version | None
    sessions: tuple[str, ...]


@dataclass(frozen=True)
class Attachment:
    """A file that came with an entry; `original` is the digest of an untouched photo."""

    path: str
    size: int
    sha256: str
    version: Version
    original: str | None = None
    photo: bytes | None = None  # without the place where it was taken
    caption: str | None = None

    @property
    def cover(self) -> bool:
        """Whether it was marked to stand on the first page."""
        return self.path.rsplit("/", 1)[-1].startswith("cover-")


@dataclass(frozen=True)
class CustodyStory:
    """A custody record and the entry that holds it."""

    number: int
    record: Custody
    version: Version
    signed: str | None = None


@dataclass(frozen=True)
class Proof:
    """What can be checked: the ledger's id, its newest state, what `verify` says."""

    ledger_id: str
    entries: int
    head: str
    fingerprint: str
    verdict: str
    proves: tuple[str, ...]
    does_not_prove: tuple[str, ...]


@dataclass(frozen=True)
class BookletContent:
    """The whole booklet, or, with `sheet_of`, the sheet of one stage."""

    shop: str | None
    first: Version
    now: Version
    stages: tuple[StageStory, ...]
    readings: tuple[DynoVisit, ...]
    gain: Diff | None
    parts: tuple[PartLife, ...]
    gone: tuple[PartLife, ...]
    fields: tuple[FieldRow, ...]
    calibrations: tuple[CalibrationStory, ...]
    joints: tuple[JointState, ...]
    lists: tuple[DoneList, ...]
    gates: tuple[Gate, ...]
    faults: tuple[FaultState, ...]
    facts: tuple[Finding, ...]
    to_look_at: tuple[Finding, ...]
    attachments: tuple[Attachment, ...]
    custody: tuple[CustodyStory, ...]
    not_checked: tuple[str, ...]
    proof: Proof
    margins: tuple[Row, ...] = ()
    dues: tuple[DueState, ...] = ()
    displacement: float | None = None
    sheet_of: tuple[str, ...] = field(default=())
    quoted: tuple[Plan, ...] = ()  # whose prices the sheet shows; none unless asked for
    read: Version | None = None  # the entry of the newest reading of the odometer
    drawn: tuple[str, ...] = ()  # the ledger's measured versions in order: each its own colour
