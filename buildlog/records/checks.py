"""Checklists as shipped or as a shop writes them, and lists that were carried out."""

import datetime as dt
from typing import Annotated, Literal

from pydantic import Field

from buildlog.records.base import FileFormat, Listed, Note, Record, Text, absent, told
from buildlog.records.parts import Odometer

Key = Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9-]{0,59}$")]
Step = Literal["forced-induction-work", "running", "light-load-check", "pull", "hand-back"]
Result = Literal["pass", "fail", "not-applicable", "not-done"]


class ListItem(Record):
    """One thing to look at."""

    key: Key = told("Its short name.")
    text: Text = told("What to do or look at.")
    critical: bool = Field(default=False, description="Whether the next step must wait for it.")
    unit: Text | None = absent("The unit of the value to write down; none for a plain number.")
    value: bool = Field(default=False, description="Whether a value is to be written down.")
    low: Text | None = absent("The least value that passes, with its unit.")
    high: Text | None = absent("The largest value that passes, with its unit.")
    source: Text | None = absent("Where the limits come from.")
    caution: Text | None = absent("What can hurt someone here.")
    per_cylinder: bool = Field(default=False, description="Whether each cylinder has its value.")
    codes: bool = Field(
        default=False, description="Whether stored trouble codes are to be written down."
    )


class Checklist(Record):
    """A list of things to look at before a step."""

    format: FileFormat = told("The format of this file.")
    name: Key = told("The list's short name.")
    title: Text = told("What it is for.")
    before: Step | None = absent("The step that waits for its critical items.")
    who: Text | None = absent("Who may tick it.")
    cautions: Annotated[tuple[Text, ...], Listed] = Field(
        default=(), description="What can hurt someone, said before the list."
    )
    item: Annotated[tuple[ListItem, ...], Listed] = Field(default=(), description="Its items.")


class CheckedItem(Record):
    """What was found for one item."""

    key: Key = told("The item's short name.")
    text: Text | None = absent("What was looked at, as the list said it on that day.")
    critical: bool = Field(default=False, description="Whether the next step waits for it.")
    result: Result = Field(default="not-done", description="What was found.")
    value: Text | None = absent("The value, with its unit.")
    values: Annotated[tuple[Text, ...], Listed] | None = absent("Values for each cylinder.")
    low: Text | None = absent("The least value that passes.")
    high: Text | None = absent("The largest value that passes.")
    source: Text | None = absent("Where the limits come from.")
    codes: Annotated[tuple[Text, ...], Listed] = Field(
        default=(), description="Trouble codes that were stored."
    )
    by: Text | None = absent("Who looked: initials or a staff number.")
    at: dt.datetime | dt.date | None = absent("When.")
    note: Note | None = absent("What was seen.")


class Check(Record):
    """A checklist that was carried out."""

    format: FileFormat = told("The format of this file.")
    list: Key = told("The list that was used.")
    title: Text | None = absent("What it was for.")
    date: dt.date = told("The day.")
    odometer: Odometer | None = absent("Odometer on that day.")
    before: Step | None = absent("The step that waits for its critical items.")
    calibration: Text | None = absent("The calibration that was in the car.")
    item: Annotated[tuple[CheckedItem, ...], Listed] = Field(default=(), description="Its items.")
    note: Note | None = absent("Anything else.")
