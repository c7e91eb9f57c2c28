"""Notes of a day that no entry is made for: a reading of the odometer, what the car waits for."""

import datetime as dt
from typing import Literal

from buildlog.records.fields.base import Count, FileFormat, Note, Text, WholeFile
from buildlog.records.fields.parts import Odometer


class OdometerReading(WholeFile):
    """A distance that is known without an entry."""

    format: FileFormat
    """The format of this file."""
    date: dt.date
    """The day."""
    odometer: Odometer
    """The reading."""
    starts: Count | None = None
    """Starts since the reading before."""
    passes: Count | None = None
    """Passes since the reading before."""
    heat_cycles: Count | None = None
    """Heat cycles since the reading before."""
    who: Text | None = None
    """Who read it: initials or a staff number."""
    source: Text | None = None
    """How it is known: the instrument, a customer's message, a photo."""
    note: Note | None = None
    """Anything else."""


class Waiting(WholeFile):
    """What the car waits for, or the end of such a wait: two files, as neither is ever changed."""

    format: FileFormat
    """The format of this file."""
    state: Literal["waiting", "ended"]
    """Waiting when it begins, ended by a later file."""
    date: dt.date
    """The day it was written down."""
    waits_for: Literal["part", "go-ahead", "outside work", "other"] | None = None
    """What kind of thing it is."""
    what: Text | None = None
    """The thing: which part, whose word, what work."""
    since: dt.date | None = None
    """Since when, if earlier."""
    expected: dt.date | None = None
    """When it is expected."""
    ends: Text | None = None
    """Name of the file of the wait that this one ends."""
    by: Text | None = None
    """Who wrote it: initials or a staff number."""
    note: Note | None = None
    """Anything else."""
