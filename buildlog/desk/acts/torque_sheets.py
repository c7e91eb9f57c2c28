"""A maker's sheet of joints in the working files: read in, gone through stage by stage, gone on
with after it was recorded, gone through again after heat cycles. Each answer is saved at once."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, Protocol

from buildlog.analysis.car import sheet_book
from buildlog.analysis.car.sheet_book import ENDING, SheetWritten, Stage
from buildlog.analysis.car.sheet_book import SheetState as SheetState
from buildlog.analysis.car.sheet_book import StageAsked as StageAsked
from buildlog.analysis.car.sheet_book import StageWritten as StageWritten
from buildlog.analysis.car.written import RecordWith
from buildlog.desk.acts import filing, sheet_rows, working_files
from buildlog.desk.questions import day_books
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import BuildlogError, InvalidInput, NotFound
from buildlog.findings import Finding, how_many
from buildlog.records.fasteners import Fastened, How, JointSheet, StageDone, again_after
from buildlog.records.paths import nearest
from buildlog.records.reading import read
from buildlog.records.toml import toml_edit
from buildlog.store.ledger.ledger import Ledger
from buildlog.units import Quantity, parse

SETTING: How = "tool setting"
READING: How = "reading"


@dataclass(frozen=True)
class SheetSaid:
    """What is said of a sheet besides its joints; `maps` as "torque=Value:N*m"."""

    title: str | None = None
    source: str | None = None
    maps: Sequence[str] = ()
    odometer: str | None = None
    note: str | None = None
    by: str | None = None
    on: dt.date | None = None


class Fitter(Protocol):
    """Who goes through a sheet at the car, stage by stage."""

    def begun(self, state: SheetState) -> None:
        """Hear which sheet it is, before its first stage."""

    def ask(self, one: StageAsked, refused: BuildlogError | None) -> str | None:
        """An answer like "done", "30", "22 lb*ft read", "3=28 7=29"; "" leaves the stage for
        later, None stops. `refused` is why the answer before could not be taken."""

    def tell(self, done: StageWritten) -> None:
        """Hear what was written."""


# the sheet


def add_sheet(ledger: Ledger, file: Path, said: SheetSaid) -> SheetWritten:
    """Read a sheet of joints from a CSV or TOML file into the folder torque/."""
    try:
        data = file.read_bytes()
    except FileNotFoundError:
        raise NotFound("there is no such file", where=str(file)) from None
    except OSError as problem:
        why = problem.strerror or str(problem)
        raise InvalidInput(f"the file cannot be read ({why})", where=str(file)) from None
    if file.suffix.lower() == ".toml":
        joints, told, title = sheet_rows.from_toml(data, file.name)
    else:
        joints, told, title = sheet_rows.from_table(data, file.name, said.maps)
    plain = file.stem.replace("_", " ").replace("-", " ")
    named = said.title or title or plain
    return _written(ledger, joints, named, said, told, stem=said.title or plain)


def write_sheet(
    ledger: Ledger, joints: Sequence[Mapping[str, Any]], title: str, said: SheetSaid
) -> SheetWritten:
    """A sheet of joints that is at hand as fields of `Fastened`, each quantity as a text."""
    return _written(ledger, joints, title, said, ())


def sheet_again(
    ledger: Ledger, name: str, said: SheetSaid, joint: str | None = None
) -> SheetWritten:
    """A new sheet to tighten or check joints of another again, after heat cycles or a distance:
    the one named, else those that ask for it, else all."""
    state = _chosen(ledger, name)
    wanted = [one for one in state.joints if one.retorque_after or one.retorque_cycles]
    wanted = [_joint_named(state, joint)] if joint else wanted or [*state.joints]
    joints = [_fields_of(one) | again_after(None) for one in wanted]
    title = said.title or f"{state.sheet.title}, again"
    return _written(ledger, joints, title, said, (), retorque_of=state.name)


def _written(
    ledger: Ledger,
    joints: Sequence[Mapping[str, Any]],
    title: str,
    said: SheetSaid,
    told: Sequence[str],
    stem: str | None = None,
    **more: str,
) -> SheetWritten:
    for joint in joints:
        if part := joint.get("part"):
            filing.refuse_no_part(part)
    day = filing.day(said.on)
    head: dict[str, Any] = {
        "title": title, "date": day,
        "odometer": filing.odometer(Snapshot(ledger), said.odometer), "source": said.source,
        **more, "by": filing.who(said.by), "note": said.note,
    }  # fmt: skip
    fields = {name: head[name] for name in JointSheet.model_fields if name in head}
    joints = [{f: one[f] for f in Fastened.model_fields if f in one} for one in joints]
    place = ("torque", f"{day}-{filing.slug(stem or title)}")
    path, _ = filing.add(ledger, place, JointSheet, fields, "fastened", joints, ending=ENDING)
    state = _chosen(ledger, path.removeprefix("torque/").removesuffix(".toml"))
    meant = RecordWith(f"{title}: sheet of {how_many(len(joints), 'joint')}")
    return SheetWritten((path,), meant, state, tuple(told))


# one stage


def tighten(
    ledger: Ledger,
    name: str | None,
    joint: str,
    stage: int | None = None,
    value: str | None = None,
    *,
    number: int | None = None,
    how: How | None = None,
    by: str | None = None,
    on: dt.date | None = None,
) -> StageWritten:
    """Write down one stage of one joint: for fastener `number`, else for all that it has.

    Without a stage it is the next that is left; without a value it is what the stage asks for, as
    the tool's setting. A stage that was done is done anew. A sheet that is recorded already is gone
    on with in a file of its own.
    """
    return _tighten(ledger, name, joint, stage, [(number, value)], how, by, on)


def take_back_stage(
    ledger: Ledger,
    name: str | None,
    joint: str,
    stage: int | None = None,
    *,
    number: int | None = None,
) -> StageWritten:
    """Take back what was written of a stage that is not recorded yet: of one fastener, else all.

    Without a stage it is the last one that was done.
    """
    state = _chosen(ledger, name)
    whole = _joint_named(state, joint)
    last = max((one.stage for one in whole.done), default=1) if stage is None else stage

    def edit(data: bytes, held: Fastened, place: int) -> bytes:
        gone = [index for index, one in enumerate(held.done)
                if one.stage == last and (number is None or one.number == number)]  # fmt: skip
        if not gone:
            raise NotFound(f"stage {last} of {joint} holds nothing that is not yet recorded",
                           hint="what is recorded is corrected by what follows")  # fmt: skip
        for index in reversed(gone):
            data = toml_edit.delete(data, f"fastened.{place}.done.{index}")
        return data

    state = _open(ledger, state)
    _changed(ledger, state, whole.name, [_of_stage(last, number)], edit)
    return _told(ledger, state.name, whole.name, last, ())


def _tighten(
    ledger: Ledger,
    name: str | None,
    joint: str,
    stage: int | None,
    values: Sequence[tuple[int | None, str | None]],
    how: How | None,
    by: str | None,
    on: dt.date | None,
) -> StageWritten:
    state = _chosen(ledger, name)
    asked_of = _joint_named(state, joint)
    wanted = _stage(asked_of, stage)
    who, day = filing.who(by), filing.day(on)
    got = tuple(_done(asked_of, wanted, number, text, how, (who, day)) for number, text in values)
    state = _open(ledger, state)
    stages = [_of_stage(wanted.number, one.number) for one in got]
    edit = partial(_put, got=got)
    _changed(ledger, state, asked_of.name, stages, edit)
    return _told(ledger, state.name, asked_of.name, wanted.number, got)


def _of_stage(stage: int, number: int | None) -> Mapping[str, str | int]:
    """What chooses the result of a stage, of one fastener or of all."""
    return {"stage": stage} if number is None else {"stage": stage, "number": number}


def _put(data: bytes, held: Fastened, place: int, got: Sequence[StageDone]) -> bytes:
    """The file with these results; those that they replace go."""
    numbers, stage = {one.number for one in got}, got[0].stage
    gone = [index for index, one in enumerate(held.done)
            if one.stage == stage and (one.number in numbers or None in numbers)]  # fmt: skip
    for index in reversed(gone):
        data = toml_edit.delete(data, f"fastened.{place}.done.{index}")
    return toml_edit.append_items(data, f"fastened.{place}.done", map(_as_fields, got))


def _as_fields(one: StageDone) -> dict[str, Any]:
    fields = {"number": one.number, "stage": one.stage, "value": one.value.text, "how": one.how,
              "who": one.who, "when": one.when}  # fmt: skip
    return {name: value for name, value in fields.items() if value is not None}


def _done(
    joint: Fastened,
    stage: Stage,
    number: int | None,
    text: str | None,
    how: How | None,
    signed: tuple[str | None, dt.date],
) -> StageDone:
    """A result as it is written down; InvalidInput where it cannot be meant."""
    if number is not None and not 1 <= number <= joint.count:
        raise InvalidInput(f"{joint.name} has {how_many(joint.count, 'fastener')}, numbered from 1",
                           hint=f"1 to {joint.count}, or none for all")  # fmt: skip
    return StageDone(number=number, stage=stage.number, value=_value(joint, stage, text),
                     how=how or SETTING, who=signed[0], when=signed[1])  # fmt: skip


def _value(joint: Fastened, stage: Stage, text: str | None) -> Quantity:
    if text is None or not text.strip():
        if stage.is_range:
            raise InvalidInput(f"{joint.name} asks for {stage.asked}: which value was it?",
                               hint=f'give it: "{stage.low}"')  # fmt: skip
        return stage.low
    plain = text.strip()
    if re.fullmatch(r"\d+(?:\.\d*)?|\.\d+", plain):
        plain = f"{plain} {stage.low.unit.text}"
    return parse(plain, (stage.low.dimension,))


def _joint_named(state: SheetState, joint: str) -> Fastened:
    """A joint of a sheet by its name, its place from 1, or enough of the name to be unique."""
    names = {one.name: one for one in state.joints}
    if joint in names:
        return names[joint]
    hits = [one for name, one in names.items() if joint.casefold() in name.casefold()]
    if joint.isdecimal() and 1 <= int(joint) <= len(state.joints):
        return state.joints[int(joint) - 1]
    if len(hits) != 1:
        hint = ", ".join(one.name for one in hits[:5]) if hits else nearest(joint, names)
        several = "more than one joint" if hits else "no joint"
        raise NotFound(f'"{joint}" names {several} of {state.name}', hint=hint)
    return hits[0]


def _stage(joint: Fastened, number: int | None) -> Stage:
    known = sheet_book.stages(joint)
    if number is None:
        open_stages = sheet_book.left(joint)
        if not open_stages:
            raise InvalidInput(f"{joint.name} has all its stages", hint="--stage does one anew")
        return open_stages[0][0]
    if not 1 <= number <= len(known):
        told = "; ".join(f"{one.number}: {one.asked}" for one in known)
        raise NotFound(f"{joint.name} has no stage {number}", hint=told)
    return known[number - 1]


def _told(
    ledger: Ledger, name: str, joint: str, stage: int, got: tuple[StageDone, ...]
) -> StageWritten:
    state = _chosen(ledger, name)
    path = f"torque/{name}.toml"
    held = _joint_named(state, joint)
    wanted = _stage(held, stage)
    found = (sheet_book.stage_finding(held, wanted, one.value, path) for one in got)
    findings: tuple[Finding, ...] = tuple(dict.fromkeys(one for one in found if one))
    meant = RecordWith(state.progress)
    return StageWritten((path,), meant, state, (), held, wanted, got, findings=findings)


# through a sheet


def go_through(
    ledger: Ledger,
    name: str | None,
    fitter: Fitter,
    *,
    how: How | None = None,
    by: str | None = None,
    on: dt.date | None = None,
) -> SheetWritten:
    """A person asked for each stage that is left, joint by joint; each answer is saved at once."""
    state = _chosen(ledger, name)
    fitter.begun(state)
    for question in sheet_book.questions(state):
        refused: BuildlogError | None = None
        while answer := fitter.ask(question, refused):
            try:
                values, said = _meant(question, answer)
                joint, stage = question.joint.name, question.stage.number
                done = _tighten(ledger, state.name, joint, stage, values, said or how, by, on)
            except BuildlogError as error:
                refused = error
            else:
                state = done.state
                fitter.tell(done)
                break
        if answer is None:
            break
    held = _chosen(ledger, state.name)
    return SheetWritten((f"torque/{held.name}.toml",), RecordWith(held.progress), held)


def _meant(
    question: StageAsked, answer: str
) -> tuple[list[tuple[int | None, str | None]], How | None]:
    """One line as it is typed: values by fastener, and whether they were read or set."""
    words = answer.strip()
    how: How | None = None
    for ending, meant in ((" read", READING), (" reading", READING), (" set", SETTING)):
        if words.endswith(ending):
            words, how = words.removesuffix(ending).strip(), meant
    if words in ("d", "done", "ok"):
        return _for_wanting(question, None), how
    numbered = re.findall(r"(\d+)\s*=\s*([^=]*?)(?=[\s,;]+\d+\s*=|$)", words)
    if numbered:
        rest = re.sub(r"(\d+)\s*=\s*([^=]*?)(?=[\s,;]+\d+\s*=|$)", "", words).strip(" ,;")
        if rest:
            raise InvalidInput(f'"{rest}" belongs to no fastener', hint='write "3=28 7=29.5"')
        return [(int(number), value.strip()) for number, value in numbered], how
    return _for_wanting(question, words), how


def _for_wanting(question: StageAsked, value: str | None) -> list[tuple[int | None, str | None]]:
    """A value for all, or for those alone that still want it where some have theirs."""
    if len(question.fasteners) == question.joint.count:
        return [(None, value)]
    return [(number, value) for number in question.fasteners]


# which sheet, in which file


def _chosen(ledger: Ledger, name: str | None) -> SheetState:
    return day_books.sheet_named(day_books.sheets(ledger), name)


def _open(ledger: Ledger, state: SheetState) -> SheetState:
    """The sheet whose newest file is not recorded yet: one that is, is gone on with in another."""
    if state.name in filing.unrecorded(ledger, "torque"):
        return state
    if state.done:
        raise InvalidInput(
            f"{state.name} is finished and recorded",
            hint=f"buildlog torque do {state.name} --again begins it anew",
        )
    wanting = [_fields_of(joint) for joint in state.joints if sheet_book.left(joint)]
    sheet = state.sheet
    day = filing.day(None)
    fields: filing.Fields = {
        "title": sheet.title, "date": day,
        "odometer": filing.odometer(Snapshot(ledger), None), "source": sheet.source,
        "continues": state.name, "retorque_of": sheet.retorque_of, "by": sheet.by,
    }  # fmt: skip
    stem = f"{day}-{filing.slug(sheet.title)}"
    with working_files.beside_the_act(ledger):
        path, _ = filing.add(
            ledger, ("torque", stem), JointSheet, fields, "fastened", wanting, ending=ENDING
        )
    return _chosen(ledger, path.removeprefix("torque/").removesuffix(".toml"))


def _fields_of(joint: Fastened) -> dict[str, Any]:
    """What a joint asks for, as it is written into another file."""
    held = joint.model_dump(exclude={"done"})
    return {name: value.text if isinstance(value, Quantity) else value or None
            for name, value in held.items()}  # fmt: skip


def _changed(
    ledger: Ledger,
    state: SheetState,
    joint: str,
    stages: Sequence[Mapping[str, str | int]],
    edit: Callable[[bytes, Fastened, int], bytes],
) -> None:
    """The sheet's file with these stages of a joint edited; the others may be edited beside us."""
    path = f"torque/{state.name}.toml"

    def edited(data: bytes) -> bytes:
        held = read(JointSheet, data, path).fastened
        place = next(i for i, one in enumerate(held) if one.name == joint)
        after = edit(data, held[place], place)
        filing.refuse_invalid(JointSheet, after, path)
        return after

    places = [("fastened", {"name": joint}, "done", one) for one in stages]
    working_files.change(ledger, path, edited, places=places)
