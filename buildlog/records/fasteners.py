"""Tightening records: what a joint asks for and what each fastener got; a joint by itself, or the
joints of a maker's sheet gone through stage by stage."""

import datetime as dt
import re
from typing import Annotated, Literal

from pydantic import AfterValidator, Field
from pydantic_core import PydanticCustomError

from buildlog.errors import InvalidInput
from buildlog.records.fields.base import FileFormat, Listed, Measure, Note, Record, Text, WholeFile
from buildlog.records.fields.parts import Odometer
from buildlog.units import NUMBER, Quantity

TighteningTorque = Annotated[Quantity, Measure("torque", "0.5 N*m", "2000 N*m")]
Angle = Annotated[Quantity, Measure("angle", "0 deg", "720 deg")]
_TORQUE_OR_ANGLE = Measure(("torque", "angle"), "0.5 N*m", "2000 N*m")
TorqueOrAngle = Annotated[Quantity, _TORQUE_OR_ANGLE]
Distance = Annotated[Quantity, Measure("length", "0 km", "20000 km")]
Condition = Literal["dry", "plated", "oiled", "anti-seize", "waxed"]
HeatCycles = Annotated[int, Field(ge=1, le=100)]
How = Literal["tool setting", "reading"]
_CYCLES = re.compile(r"(?:after\s+)?(\d{1,3})\s+(?:heat|thermal)[ -]?cycles?", re.IGNORECASE)
_RANGE = re.compile(rf"\s*({NUMBER})([^\d]*?)\s+to\s+({NUMBER})(.+)")


def stage_asked(text: str) -> tuple[Quantity, Quantity]:
    """The least and the largest of what a stage asks for; InvalidInput says what is wrong.

    >>> [one.text for one in stage_asked("20 to 24 N*m")], stage_asked("90 deg")[0].text
    (['20 N*m', '24 N*m'], '90 deg')
    """
    found = _RANGE.fullmatch(text)
    low = high = text
    if found:
        low, high = f"{found[1]}{found[2].strip() or found[4]}", f"{found[3]}{found[4]}"
    try:
        ends = (_TORQUE_OR_ANGLE.read(low), _TORQUE_OR_ANGLE.read(high))
    except PydanticCustomError as error:
        hint = str((error.context or {}).get("hint", ""))
        raise InvalidInput(error.message(), hint=hint) from None
    if ends[0].dimension != ends[1].dimension or ends[0].si > ends[1].si:
        raise InvalidInput(f'"{text}" is no range', hint='write "20 to 24 N*m"')
    return ends


def _checked(text: str) -> str:
    try:
        stage_asked(text)
    except InvalidInput as error:
        told = {"what": error.what, "hint": error.hint or ""}
        raise PydanticCustomError("quantity", "{what}", told) from None
    return text


StageText = Annotated[Text, AfterValidator(_checked)]


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
    how: How | None = None
    """Whether the torque is what the tool was set to, or was read."""


class Joint(WholeFile):
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
    condition: Condition | None = None
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
    retorque_after: Distance | None = None
    """The distance after which they are to be tightened again."""
    retorque_cycles: HeatCycles | None = None
    """The heat cycles after which they are to be tightened again."""
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


def again_after(text: str | None) -> dict[str, str | int | None]:
    """After what a joint is tightened again, as fields; where both are named, the first counts.

    >>> again_after("200 mi or 2 heat cycles")
    {'retorque_after': '200 mi', 'retorque_cycles': 2}
    """
    found: dict[str, str | int | None] = {"retorque_after": None, "retorque_cycles": None}
    for part in re.split(r"\s+or\s+|\s*;\s*", (text or "").strip()):
        cycles = _CYCLES.fullmatch(part.strip())
        if cycles:
            found["retorque_cycles"] = int(cycles[1])
        elif part:
            found["retorque_after"] = part
    return found


class StageDone(Record):
    """One stage of one joint as it was done."""

    number: Annotated[int, Field(ge=1, le=200)] | None = None
    """Which of its fasteners, from 1; none where all got the same."""
    stage: Annotated[int, Field(ge=1, le=20)]
    """Which stage, from 1."""
    value: TorqueOrAngle
    """The torque it got, or the angle it was turned on."""
    how: How | None = None
    """Whether the value is what the tool was set to, or was read."""
    who: Text | None = None
    """Who did it: initials or a staff number."""
    when: dt.datetime | dt.date | None = None
    """When."""


class Fastened(Record):
    """One joint of a sheet: what its fasteners need, and what was done.

    Its stages are those of `stages`, then the torque or range where one is given, then `angle`.
    """

    name: Text
    """What they hold together."""
    part: Text | None = None
    """The path of the part concerned: exhaust.headers."""
    count: Annotated[int, Field(ge=1, le=200)] = 1
    """How many fasteners."""
    thread: Text | None = None
    """The thread: M10x1.5 or 3/8-16."""
    grade: Text | None = None
    """The grade: 10.9 or SAE 5."""
    condition: Condition | None = None
    """What is on the threads."""
    stages: Annotated[tuple[StageText, ...], Listed] = ()
    """What comes before the last torque, in order: torques, ranges, or angles to turn on by."""
    torque: TighteningTorque | None = None
    """The torque asked for."""
    low: TighteningTorque | None = None
    """The least torque asked for, where it is a range."""
    high: TighteningTorque | None = None
    """The largest torque asked for, where it is a range."""
    angle: Angle | None = None
    """The angle to turn on by after the torque."""
    order: Text | None = None
    """In what order: a number among the joints, or a pattern such as crosswise."""
    tool: Text | None = None
    """The tool, with its number."""
    single_use: bool = False
    """Whether the fasteners serve only once."""
    retorque_after: Distance | None = None
    """The distance after which they are to be tightened again."""
    retorque_cycles: HeatCycles | None = None
    """The heat cycles after which they are to be tightened again."""
    note: Note | None = None
    """Anything else."""
    done: Annotated[tuple[StageDone, ...], Listed] = ()
    """What was done, stage by stage."""


class JointSheet(WholeFile):
    """The joints of a maker's sheet, and what was done of it."""

    format: FileFormat
    """The format of this file."""
    title: Text
    """What the sheet is of."""
    date: dt.date
    """The day."""
    odometer: Odometer | None = None
    """Odometer on that day."""
    source: Text | None = None
    """Whose sheet it is: maker, edition, page."""
    continues: Text | None = None
    """Name of the recorded sheet that this one goes on with."""
    retorque_of: Text | None = None
    """Name of the sheet whose joints are tightened again."""
    by: Text | None = None
    """Who tightened them: initials or a staff number."""
    fastened: Annotated[tuple[Fastened, ...], Listed] = ()
    """Its joints, in the order in which they are tightened."""
    note: Note | None = None
    """Anything else."""


def place_of(name: str) -> str:
    """The file of a record by its name, which of a joint on a sheet says both.

    >>> place_of("2026-04-01-head.sheet/main caps")
    'torque/2026-04-01-head.sheet.toml'
    """
    return f"torque/{name.partition('/')[0]}.toml"
