"""A fault, and the record that closes it: two files, because neither is ever changed."""

import datetime as dt
from typing import Annotated, Literal

from pydantic import Field

from buildlog.records.base import FileFormat, Listed, Note, Record, Text, absent, told
from buildlog.records.parts import Odometer


class Fault(Record):
    """Something broke or was complained of, or the closing of such a fault."""

    format: FileFormat = told("The format of this file.")
    state: Literal["open", "closed"] = told("Open when it is found, closed by a later file.")
    date: dt.date = told("The day it was found or closed.")
    symptom: Text | None = absent("What was seen, heard, smelt or felt.")
    part: Text | None = absent("The path of the part concerned: induction.belt.")
    odometer: Odometer | None = absent("Odometer on that day.")
    codes: Annotated[tuple[Text, ...], Listed] = Field(
        default=(), description="Trouble codes that were stored."
    )
    closes: Text | None = absent("Name of the file of the fault that this one closes.")
    cause: Text | None = absent("What was found to be the cause.")
    remedy: Text | None = absent("What was done.")
    holds_up_full_load: bool = Field(
        default=True, description="Whether full load must wait until it is closed."
    )
    by: Text | None = absent("Who wrote it: initials or a staff number.")
    note: Note | None = absent("Anything else.")
