"""Tightening records: what a joint asks for and what each fastener got."""

import datetime as dt
from typing import Annotated, Literal

from buildlog.records.base import FileFormat, Listed, Measure, Note, Record, Text
from buildlog.records.parts import Odometer
from buildlog.units import Quantity

TighteningTorque = Annotated[Quantity, Measure("torque", "0.5 N*m", "2000 N*m")]
Angle = Annotated[Quantity, Measure("angle", "0 deg", "720 deg")]


class Fastener(Record):
    """One fastener as tightened."""

    position: Text
    """Which one it is."""
    torque: TighteningTorque | None = None
    """The torque it got."""
    angle: Angle | None = None
    """The angle it was turned on."""
    new: bool | None = None
    """Whether it is a new piece."""


class Joint(Record):
    """The fasteners of one joint."""

    format: FileFormat
    """The format of this file."""
    joint: Text
    """What they hold together."""
    part: Text | None = None
    """The path of the part concerned: exhaust.headers."""
    date: dt.date
    """The day."""
    odometer: Odometer | None = None
    """Odometer on that day."""
    thread: Text | None = None
    """The thread: M10x1.5 or 3/8-16."""
    grade: Text | None = None
    """The grade: 10.9 or SAE 5."""
    condition: Literal["dry", "plated", "oiled", "anti-seize", "waxed"] | None = None
    """What was on the threads."""
    spec_low: TighteningTorque | None = None
    """The least torque asked for."""
    spec_high: TighteningTorque | None = None
    """The largest torque asked for."""
    spec_angle: Angle | None = None
    """The angle asked for after the torque."""
    spec_source: Text | None = None
    """Who asks for it."""
    single_use: bool = False
    """Whether the fasteners serve only once."""
    retorque_after: Annotated[Quantity, Measure("length", "0 km", "20000 km")] | None = None
    """The distance after which they are to be tightened again."""
    retorque_of: Text | None = None
    """Name of the record whose tightening this one repeats."""
    tool: Text | None = None
    """The tool, with its number."""
    by: Text | None = None
    """Who tightened them: initials or a staff number."""
    fastener: Annotated[tuple[Fastener, ...], Listed] = ()
    """Each fastener."""
    note: Note | None = None
    """Anything else."""
