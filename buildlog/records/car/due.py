"""What comes due: after a distance, a time, a number of starts or passes; that it was done."""

import datetime as dt
import re
from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal, get_args

from pydantic import AfterValidator
from pydantic_core import PydanticCustomError

from buildlog.errors import InvalidInput
from buildlog.records.fields.base import FileFormat, Note, Record, Text, WholeFile
from buildlog.records.fields.parts import Odometer
from buildlog.records.fields.traits import NOTHING, Moves
from buildlog.units import parse

Counted = Literal["starts", "passes", "heat cycles"]
COUNTED: tuple[Counted, ...] = get_args(Counted)
_DAYS = {"day": 1, "week": 7}
_MONTHS = {"month": 1, "year": 12}
_PLAIN = re.compile(r"(\d{1,6})\s+(day|week|month|year|start|passe?|heat cycle)s?")
_HINT = 'write it like "5000 mi", "12 months", "20 passes", "5000 mi or 12 months"'


@dataclass(frozen=True)
class Every:
    """An interval: distance [m], months, days, a count; whichever is first where several are."""

    distance: float | None = None
    months: int | None = None
    days: int | None = None
    count: int | None = None
    counted: Counted | None = None


def every(text: str) -> Every:
    """The interval that a text states; InvalidInput if it is none.

    >>> every("5000 km or 12 months")
    Every(distance=5000000.0, months=12, days=None, count=None, counted=None)
    """
    found: dict[str, float | int | str] = {}
    for part in re.split(r"\s+or\s+|\s*,\s+", text.strip()):
        for name, value in _part(part).items():
            if name in found:
                raise InvalidInput(f'"{text}" says two of a kind', hint=_HINT)
            found[name] = value
    return Every(**found)  # type: ignore[arg-type]


def _part(text: str) -> dict[str, float | int | str]:
    plain = _PLAIN.fullmatch(text)
    if plain is None:
        try:
            distance = parse(text, ("length",)).si
        except InvalidInput:
            raise InvalidInput(f'"{text}" is no interval', hint=_HINT) from None
        if distance < 1000:
            raise InvalidInput(f'"{text}" is no distance a car is serviced by', hint=_HINT)
        return {"distance": distance}
    number, word = int(plain[1]), plain[2]
    if not number:
        raise InvalidInput(f'"{text}" is never over', hint=_HINT)
    if word in _DAYS:
        return {"days": number * _DAYS[word]}
    if word in _MONTHS:
        return {"months": number * _MONTHS[word]}
    counted = {"start": "starts", "pass": "passes", "passe": "passes"}.get(word, "heat cycles")
    return {"count": number, "counted": counted}


def _checked(text: str) -> str:
    try:
        every(text)
    except InvalidInput as error:
        raise PydanticCustomError(
            "text", "{what}", {"what": error.what, "hint": error.hint or ""}
        ) from None
    return text


class Due(Record):
    """A thing that comes due again and again: oil, belt, a recheck of joints, an extinguisher."""

    fields_move: ClassVar[Moves] = NOTHING

    what: Text
    """What is to be done, in words that name it: "engine oil"."""
    every: Annotated[Text, AfterValidator(_checked)]
    """After what it is due: "5000 mi", "12 months", "20 passes"; "5000 mi or 12 months"."""
    part: Text | None = None
    """The path of the part it is about: a new one starts the interval anew."""
    last_on: dt.date | None = None
    """The day it was last done, where that was before this ledger."""
    last_at: Odometer | None = None
    """The odometer when it was last done, where that was before this ledger."""
    note: Note | None = None
    """Anything else: which oil, how much; nothing about persons."""


class Service(WholeFile):
    """That a thing which was due was done."""

    format: FileFormat
    """The format of this file."""
    what: Text
    """What was done, as [[due]] of car.toml names it."""
    date: dt.date
    """The day."""
    odometer: Odometer | None = None
    """The odometer on that day."""
    who: Text | None = None
    """Who did it: initials or a staff number."""
    note: Note | None = None
    """Anything else."""
