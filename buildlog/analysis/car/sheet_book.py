"""Sheets of joints: what each stage asks for, what was done of it, and each joint as a record."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from buildlog.analysis.car.written import Written
from buildlog.findings import Finding, how_many
from buildlog.records.fasteners import Fastened, Fastener, Joint, JointSheet, StageDone, stage_asked
from buildlog.units import Quantity, parse, same

ENDING = ".sheet"  # of the names of sheets: torque/2026-04-01-head.sheet.toml
# What a torque tool may be off: ISO 6789-1:2017, 4 % above 10 N*m and 6 % below (from memory).
_TOOL, _SMALL_TOOL, _SMALL = 0.04, 0.06, 10.0
_ANGLE = parse("5 deg", ("angle",)).si  # how exactly an angle is turned on (common practice)


@dataclass(frozen=True)
class Stage:
    """One stage of a joint, from 1 `of` so many: the least and largest torque, or the angle."""

    number: int
    of: int
    low: Quantity
    high: Quantity

    @property
    def turns(self) -> bool:
        """Whether it asks for an angle."""
        return self.low.dimension == "angle"

    @property
    def is_range(self) -> bool:
        """Whether it asks for a range, so that the value itself must be said."""
        return self.low != self.high

    @property
    def asked(self) -> str:
        """ "30 N*m", "20 N*m to 24 N*m"."""
        return f"{self.low} to {self.high}" if self.is_range else self.low.text

    def outside(self, value: Quantity) -> str | None:
        """ "below" or "above" where a value is not what is asked for, beyond what a tool is off."""
        if not self.is_range and same(self.low, value):
            return None
        low, high = self.bounds
        return "below" if value.si < low else "above" if value.si > high else None

    @property
    def bounds(self) -> tuple[float, float]:
        """The least and the most that is right, in SI."""
        if self.is_range:
            return self.low.si * (1 - 1e-9), self.high.si * (1 + 1e-9)
        off = allowed_off(self.low)
        return self.low.si - off, self.low.si + off


@dataclass(frozen=True)
class SheetState:
    """A sheet with what was done of it, in all the files that go on with it, oldest first.

    `name` and `sheet` are those of the newest file; each of `joints` has all that was done of it.
    `holders`: the file that holds the newest of each joint.
    """

    name: str
    sheet: JointSheet
    joints: tuple[Fastened, ...]
    files: tuple[str, ...]
    holders: Mapping[str, str]

    @property
    def finished(self) -> int:
        """How many joints have all their stages."""
        return sum(not left(joint) for joint in self.joints)

    @property
    def done(self) -> bool:
        """Whether nothing is left."""
        return self.finished == len(self.joints)

    @property
    def progress(self) -> str:
        """ "head: 3 of 24 joints tightened", as the message of an entry says it."""
        so_far = "" if self.done else f"{self.finished} of "
        return f"{self.sheet.title}: {so_far}{how_many(len(self.joints), 'joint')} tightened"


@dataclass(frozen=True)
class SheetWritten(Written):
    """A sheet as it stands after an act; `read` says what its columns were taken as."""

    state: SheetState
    read: tuple[str, ...] = ()


@dataclass(frozen=True)
class StageWritten(SheetWritten):
    """A stage that was written down: of which joint, which stage, what it got."""

    joint: Fastened | None = None
    stage: Stage | None = None
    got: tuple[StageDone, ...] = ()


@dataclass(frozen=True)
class StageAsked:
    """The next stage of a sheet: which fasteners still want it, and which of how many."""

    joint: Fastened
    stage: Stage
    fasteners: tuple[int, ...]
    number: int
    of: int


def allowed_off(asked: Quantity) -> float:
    """What a tool may be off a torque [N*m] or an angle [rad] that is asked for."""
    if asked.dimension == "angle":
        return _ANGLE
    return asked.si * (_TOOL if asked.si > _SMALL else _SMALL_TOOL)


def stages(joint: Fastened) -> tuple[Stage, ...]:
    """What is to be done of a joint, in order."""
    asked = [stage_asked(one) for one in joint.stages]
    low, high = joint.low or joint.torque, joint.high or joint.torque
    low, high = low or high, high or low
    if low and high and not (asked and all(map(same, asked[-1], (low, high)))):
        asked.append((low, high))
    if joint.angle:
        asked.append((joint.angle, joint.angle))
    return tuple(Stage(number, len(asked), *one) for number, one in enumerate(asked, start=1))


def left(joint: Fastened) -> list[tuple[Stage, tuple[int, ...]]]:
    """The stages that are not done, each with the fasteners that still want it."""
    found = []
    for stage in stages(joint):
        got = {one.number for one in joint.done if one.stage == stage.number}
        wanting = tuple(n for n in range(1, joint.count + 1) if None not in got and n not in got)
        if wanting:
            found.append((stage, wanting))
    return found


def questions(state: SheetState) -> list[StageAsked]:
    """What is left of a sheet, in the order in which it is done: joint by joint, by stages."""
    found = [(joint, *one) for joint in state.joints for one in left(joint)]
    return [
        StageAsked(joint, stage, wanting, number, len(found))
        for number, (joint, stage, wanting) in enumerate(found, start=1)
    ]


def sheets(known: Mapping[str, JointSheet]) -> list[SheetState]:
    """Every sheet by the name of its newest file, with what the files before it hold."""
    continued = {one.continues for one in known.values()}
    return [_state(known, name) for name in known if name not in continued]


def _state(known: Mapping[str, JointSheet], name: str) -> SheetState:
    files = [name]
    while (before := known[files[0]].continues) and before in known and before not in files:
        files.insert(0, before)
    joints: dict[str, Fastened] = {}
    holders: dict[str, str] = {}
    for file in files:
        for joint in known[file].fastened:
            earlier = joints[joint.name].done if joint.name in joints else ()
            joints[joint.name] = joint.model_copy(update={"done": (*earlier, *joint.done)})
            holders[joint.name] = file
    return SheetState(name, known[name], tuple(joints.values()), tuple(files), holders)


def records(known: Mapping[str, JointSheet]) -> dict[str, Joint]:
    """The joints of all sheets as records of their own, by "SHEET/JOINT"; those begun alone."""
    return {
        f"{state.holders[joint.name]}/{joint.name}": _record(state, joint)
        for state in sheets(known)
        for joint in state.joints
        if joint.done
    }


def _record(state: SheetState, joint: Fastened) -> Joint:
    sheet = state.sheet
    torques = [one for one in stages(joint) if not one.turns]
    angles = [one for one in stages(joint) if one.turns]
    days = [day for one in joint.done if (day := _day(one))]
    again = f"{sheet.retorque_of}/{joint.name}" if sheet.retorque_of else None
    return Joint(
        format=1, joint=joint.name, part=joint.part, date=max(days, default=sheet.date),
        odometer=sheet.odometer, thread=joint.thread, grade=joint.grade,
        condition=joint.condition, spec_low=torques[-1].low if torques else None,
        spec_high=torques[-1].high if torques else None,
        spec_angle=_together([one.low for one in angles]), spec_source=sheet.source,
        single_use=joint.single_use, retorque_after=joint.retorque_after,
        retorque_cycles=joint.retorque_cycles, retorque_of=again,
        tool=joint.tool, by=next((one.who for one in reversed(joint.done) if one.who), sheet.by),
        fastener=tuple(_fasteners(joint, torques, angles)), note=joint.note,
    )  # fmt: skip


def _day(one: StageDone) -> dt.date | None:
    return one.when.date() if isinstance(one.when, dt.datetime) else one.when


def _fasteners(
    joint: Fastened, torques: Sequence[Stage], angles: Sequence[Stage]
) -> Iterator[Fastener]:
    """Each fastener with the last torque that it got, and all that it was turned on by."""
    for number in range(1, joint.count + 1):
        got = {one.stage: one for one in joint.done if one.number in (None, number)}
        torque = next((got[s.number] for s in reversed(torques) if s.number in got), None)
        turned = [got[s.number].value for s in angles if s.number in got]
        if torque or turned:
            yield Fastener(
                position=f"{number}", torque=torque.value if torque else None,
                angle=_together(turned), how=torque.how if torque else None,
            )  # fmt: skip


def _together(angles: Sequence[Quantity]) -> Quantity | None:
    """The sum of what was turned on, in degrees."""
    if len(angles) < 2:
        return angles[0] if angles else None
    return parse(f"{sum(one.to('deg') for one in angles):g} deg", ("angle",))


def stage_finding(joint: Fastened, stage: Stage, value: Quantity, where: str) -> Finding | None:
    """A caution where a value is not what a stage asks for."""
    side = stage.outside(value)
    if side is None:
        return None
    text = (
        f"{joint.name}, stage {stage.number}: {value} is {side} what is asked for ({stage.asked})"
    )
    return Finding("torque-outside-spec", "caution", text, where=where)


def findings(state: SheetState, *, alone: bool = False) -> list[Finding]:
    """What is left of a sheet, and values that are not what their stage asks for.

    The last torque of a joint is judged with its record, unless the sheet is looked at `alone`.
    """
    where = f"torque/{state.name}.toml"
    found = []
    for joint in state.joints:
        last = max((s.number for s in stages(joint) if not s.turns), default=0)
        by_number = {one.number: one for one in stages(joint)}
        for done in joint.done:
            stage = by_number.get(done.stage)
            if stage is None or done.value.dimension != stage.low.dimension:
                text = f"{joint.name}: stage {done.stage} is not one that the sheet asks for"
                found.append(Finding("torque-stage", "caution", text, where=where))
            elif (alone or stage.number != last) and (
                one := stage_finding(joint, stage, done.value, where)
            ):
                found.append(one)
    if not state.done and any(joint.done for joint in state.joints):
        text = f"{state.sheet.title}: {unfinished(state)}"
        found.append(Finding("torque-unfinished", "caution", text, where=where))
    return found


def unfinished(state: SheetState) -> str:
    """ "2 of 3 joints not finished: cylinder head (stage 2 of 3), main caps (stage 1 of 1)"."""
    open_joints = [joint for joint in state.joints if left(joint)]
    named = [
        f"{joint.name} (stage {left(joint)[0][0].number} of {left(joint)[0][0].of})"
        for joint in open_joints[:3]
    ]
    more = f" and {len(open_joints) - 3} more" if len(open_joints) > 3 else ""
    head = f"{len(open_joints)} of {how_many(len(state.joints), 'joint')} not finished"
    return f"{head}: {', '.join(named)}{more}"
