"""A fault, and the record that closes it: two files, because neither is ever changed."""

import datetime as dt
from typing import Annotated, Literal

from buildlog.records.fields.base import FileFormat, Listed, Note, Text, WholeFile
from buildlog.records.fields.parts import Odometer


class Fault(WholeFile):
    """Something broke or was complained of, or the closing of such a fault."""

    format: FileFormat
    """The format of this file."""
    state: Literal["open", "closed"]
    """Open when it is found, closed by a later file."""
    date: dt.date
    """The day it was found or closed."""
    symptom: Text | None = None
    """What was seen, heard, smelt or felt."""
    part: Text | None = None
    """The path of the part concerned: induction.belt."""
    odometer: Odometer | None = None
    """Odometer on that day."""
    codes: Annotated[tuple[Text, ...], Listed] = ()
    """Trouble codes that were stored."""
    closes: Text | None = None
    """Name of the file of the fault that this one closes."""
    cause: Text | None = None
    """What was found to be the cause."""
    remedy: Text | None = None
    """What was done."""
    holds_up_full_load: bool = True
    """Whether full load must wait until it is closed."""
    found_in: Text | None = None
    """The list and the item that found it: checks/2026-04-27-first-start.toml, fuel-leaks."""
    by: Text | None = None
    """Who wrote it: initials or a staff number."""
    note: Note | None = None
    """Anything else."""
