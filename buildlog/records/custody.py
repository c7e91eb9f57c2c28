"""Custody: who held the ledger, from which entry and odometer to which, and who took it on."""

import datetime as dt
from typing import Literal

from buildlog.records.fields.base import EntryId, Note, Text, WholeFile
from buildlog.records.fields.parts import Odometer


class Custody(WholeFile):
    """One side of a handover: the giver's record, or the taker's."""

    format: Literal[1]
    """The format of this file."""
    role: Literal["given", "taken"]
    """Whether the ledger was given on or taken over."""
    date: dt.date
    """The day."""
    holder: Text
    """Who held it until now, or holds it from now on: a shop's name, no person."""
    to: Text | None = None
    """Whom it was given to, in words that name no person."""
    from_entry: EntryId | None = None
    """The first entry of this holder's time."""
    from_odometer: Odometer | None = None
    """The odometer at that entry."""
    until_entry: EntryId | None = None
    """The last entry before this one."""
    odometer: Odometer | None = None
    """The odometer at the handover."""
    fingerprint: Text | None = None
    """The fingerprint of the last entry before this one."""
    note: Note | None = None
    """Anything else; nothing about persons."""
