"""What every assembly may carry: its part, its break-in, a declared effect, a stated limit."""

import datetime as dt
from typing import Annotated, ClassVar, Literal

from pydantic import Field

from buildlog.records.fields.base import Count, Measure, Note, Record, Text
from buildlog.records.fields.traits import MARGIN, NOTHING, PREDICTION, Moves
from buildlog.units import Quantity

Odometer = Annotated[Quantity, Measure("length", "0 km", "3000000 km")]
Breathing = Annotated[Quantity, Measure("ratio", "-60 percent", "100 percent")]
AnyLimit = Annotated[
    Quantity,
    Measure(
        (
            "torque",
            "power",
            "angular_speed",
            "pressure",
            "temperature",
            "speed",
            "force",
            "mass",
            "volume_flow",
            "mass_flow",
        ),
        "-100 degC",
        "100000 rpm",
    ),
]


class Part(Record):
    """The piece itself: who made it, which one it is, and what is known of its past."""

    fields_move: ClassVar[Moves] = NOTHING

    maker: Text | None = None
    """Who made the part."""
    name: Text | None = None
    """What the maker calls the part."""
    number: Text | None = None
    """The maker's part number."""
    serial: Text | None = None
    """The serial number of this very piece."""
    piece: Annotated[int, Field(ge=1, le=99)] | None = None
    """Which piece in this place it is, counted, where neither maker nor number tells it."""
    condition: Literal["original", "new", "used", "rebuilt"] | None = None
    """Whether it left the maker with the car, or was new, used or rebuilt when it was fitted."""
    made: Text | None = None
    """When it was made, as marked on it."""
    document: Text | None = None
    """The paper it came with: certificate, invoice number, sheet."""
    fitted_at_odometer: Odometer | None = None
    """The odometer at which it was fitted, where that was before this ledger; give a basis."""
    fitted_on: dt.date | None = None
    """The day it was fitted, where that was before this ledger; give a basis."""
    distance_before: Odometer | None = None
    """The distance already on the part when it was fitted here; give a basis."""
    basis: Text | None = None
    """How the part's past is known: a receipt, the owner's word."""
    note: Note | None = None
    """Anything else about the part."""


class BreakIn(Record):
    """What the part needs before full load."""

    fields_move: ClassVar[Moves] = NOTHING

    distance: Annotated[Quantity, Measure("length", "0 km", "20000 km")] | None = None
    """The distance it is to be driven without full load."""
    heat_cycles: Count | None = None
    """How often it is to be warmed up and left to cool."""
    note: Note | None = None
    """How the distance is to be driven."""
    source: Text | None = None
    """Who asks for it."""


class Effect(Record):
    """A declared change in breathing that physics cannot derive: ports, cams, headers."""

    breathing_low: Annotated[Breathing, PREDICTION] | None = None
    """The least change of the air the engine takes in, against how it left the maker."""
    breathing_high: Annotated[Breathing, PREDICTION] | None = None
    """The most change of the air the engine takes in, against how it left the maker."""
    source: Annotated[Text, NOTHING] | None = None
    """Who says so, and on what basis."""


class Limit(Record):
    """A limit that somebody states for the assembly."""

    value: Annotated[AnyLimit, MARGIN] | None = None
    """The limit: a torque, power, speed, pressure or temperature."""
    source: Annotated[Text, NOTHING] | None = None
    """Who states it."""


class Assembly(Record):
    """A table of the configuration."""

    fields_move: ClassVar[Moves] = NOTHING

    part: Part | None = None
    """The piece itself."""
    break_in: BreakIn | None = None
    """What it needs before full load."""
    effect: Effect | None = None
    """A declared change in breathing."""
    limit: Limit | None = None
    """A limit somebody states for it."""
    source: Text | None = None
    """Who states the ratings given in this table."""
    note: Note | None = None
    """Anything else about it."""
