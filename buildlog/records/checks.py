"""Checklists as shipped or as a shop writes them, and lists that were carried out."""

import datetime as dt
from typing import Annotated, Literal

from pydantic import Field

from buildlog.records.fields.base import FileFormat, Listed, Note, Record, Text, WholeFile
from buildlog.records.fields.parts import Odometer

Key = Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9-]{0,59}$")]
Step = Literal["forced-induction-work", "running", "light-load-check", "pull", "hand-back"]
# What a list may ask of a car: `analysis/workshop/list_fit.py` says when a car has it.
CarTrait = Literal[
    "combustion", "spark-ignition", "compression-ignition", "carburettor", "injection",
    "control-unit", "forced-induction", "high-voltage", "electric",
]  # fmt: skip
Fits = Annotated[tuple[CarTrait, ...], Listed]
Result = Literal["pass", "fail", "not-applicable", "not-done"]


class ListItem(Record):
    """One thing to look at."""

    key: Key
    """Its short name."""
    text: Text
    """What to do or look at."""
    critical: bool = False
    """Whether the next step must wait for it."""
    unit: Text | None = None
    """The unit of the value to write down; none for a plain number."""
    value: bool = False
    """Whether a value is to be written down."""
    quantity: Literal["lambda"] | None = None
    """What a value without a unit is, where an air-fuel ratio may be said for it."""
    usual: Text | None = None
    """What the value usually lies within ("20 to 90 psi"): a bare number far off is asked about."""
    low: Text | None = None
    """The least value that passes, with its unit."""
    high: Text | None = None
    """The largest value that passes, with its unit."""
    source: Text | None = None
    """Where the limits come from."""
    caution: Text | None = None
    """What can hurt someone here."""
    per_cylinder: bool = False
    """Whether each cylinder has its value."""
    codes: bool = False
    """Whether stored trouble codes are to be written down."""
    fits: Fits = ()
    """What a car must have for this to fit it: all of these."""


class ListCaution(Record):
    """What can hurt someone, of some cars."""

    text: Text
    """The caution."""
    fits: Fits = ()
    """What a car must have for it to be said: all of these."""


class Checklist(WholeFile):
    """A list of things to look at before a step."""

    format: FileFormat
    """The format of this file."""
    name: Key
    """The list's short name."""
    title: Text
    """What it is for."""
    before: Step | None = None
    """The step that waits for its critical items."""
    who: Text | None = None
    """Who may tick it."""
    cautions: Annotated[tuple[Text, ...], Listed] = ()
    """What can hurt someone, said before the list."""
    fits: Fits = ()
    """What a car must have for the list to be of use: all of these."""
    caution: Annotated[tuple[ListCaution, ...], Listed] = ()
    """More cautions, of some cars only."""
    item: Annotated[tuple[ListItem, ...], Listed] = ()
    """Its items."""


class CheckedItem(Record):
    """What was found for one item."""

    key: Key
    """The item's short name."""
    text: Text | None = None
    """What was looked at, as the list said it on that day."""
    critical: bool = False
    """Whether the next step waits for it."""
    result: Result = "not-done"
    """What was found."""
    value: Text | None = None
    """The value, with its unit."""
    values: Annotated[tuple[Text, ...], Listed] | None = None
    """Values for each cylinder."""
    low: Text | None = None
    """The least value that passes."""
    high: Text | None = None
    """The largest value that passes."""
    source: Text | None = None
    """Where the limits come from."""
    codes: Annotated[tuple[Text, ...], Listed] = ()
    """Trouble codes that were stored."""
    by: Text | None = None
    """Who looked: initials or a staff number."""
    at: dt.datetime | dt.date | None = None
    """When."""
    note: Note | None = None
    """What was seen."""
    photo: Text | None = None
    """The path of its photo, below attachments."""
    spoken: Text | None = None
    """The value as it was said, where another was written down for it: an air-fuel ratio."""
    fault: Text | None = None
    """What is wrong, where it opens a fault when the list is recorded."""


class Check(WholeFile):
    """A checklist that was carried out."""

    format: FileFormat
    """The format of this file."""
    list: Key
    """The list that was used."""
    title: Text | None = None
    """What it was for."""
    date: dt.date
    """The day."""
    odometer: Odometer | None = None
    """Odometer on that day."""
    before: Step | None = None
    """The step that waits for its critical items."""
    calibration: Text | None = None
    """The calibration that was in the car."""
    item: Annotated[tuple[CheckedItem, ...], Listed] = ()
    """Its items."""
    note: Note | None = None
    """Anything else."""
    continues: Text | None = None
    """The recorded file that this one goes on with: checks/2026-04-27-first-start.toml."""
