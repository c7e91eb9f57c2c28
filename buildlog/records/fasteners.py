"""Tightening records: what a joint asks for and what each fastener got."""

import datetime as dt
from typing import Annotated, Literal

from pydantic import Field

from buildlog.records.base import FileFormat, Listed, Measure, Note, Record, Text, absent, told
from buildlog.records.parts import Odometer
from buildlog.units import Quantity

TighteningTorque = Annotated[Quantity, Measure("torque", "0.5 N*m", "2000 N*m")]
Angle = Annotated[Quantity, Measure("angle", "0 deg", "720 deg")]


class Fastener(Record):
    """One fastener as tightened."""

    position: Text = told("Which one it is.")
    torque: TighteningTorque | None = absent("The torque it got.")
    angle: Angle | None = absent("The angle it was turned on.")
    new: bool | None = absent("Whether it is a new piece.")


class Joint(Record):
    """The fasteners of one joint."""

    format: FileFormat = told("The format of this file.")
    joint: Text = told("What they hold together.")
    part: Text | None = absent("The path of the part concerned: exhaust.headers.")
    date: dt.date = told("The day.")
    odometer: Odometer | None = absent("Odometer on that day.")
    thread: Text | None = absent("The thread: M10x1.5 or 3/8-16.")
    grade: Text | None = absent("The grade: 10.9 or SAE 5.")
    condition: Literal["dry", "plated", "oiled", "anti-seize", "waxed"] | None = absent(
        "What was on the threads."
    )
    spec_low: TighteningTorque | None = absent("The least torque asked for.")
    spec_high: TighteningTorque | None = absent("The largest torque asked for.")
    spec_angle: Angle | None = absent("The angle asked for after the torque.")
    spec_source: Text | None = absent("Who asks for it.")
    single_use: bool = Field(default=False, description="Whether the fasteners serve only once.")
    retorque_after: Annotated[Quantity, Measure("length", "0 km", "20000 km")] | None = absent(
        "The distance after which they are to be tightened again."
    )
    retorque_of: Text | None = absent("Name of the record whose tightening this one repeats.")
    tool: Text | None = absent("The tool, with its number.")
    by: Text | None = absent("Who tightened them: initials or a staff number.")
    fastener: Annotated[tuple[Fastener, ...], Listed] = Field(
        default=(), description="Each fastener."
    )
    note: Note | None = absent("Anything else.")
