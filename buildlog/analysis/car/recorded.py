"""What an entry would hold, and what was recorded."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from buildlog.analysis.car.changes import Change
from buildlog.findings import Finding


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
