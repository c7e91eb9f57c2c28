"""What to do now, and what must not be started before: from the history alone."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from buildlog.analysis.car import sheet_book
from buildlog.analysis.car.changes import changes
from buildlog.analysis.car.history_files import HistoryFiles
from buildlog.analysis.car.version import Version
from buildlog.analysis.workshop import calibration_match, fastener_book, fault_book
from buildlog.analysis.workshop.check_book import (
    newest_lists,
    to_go_on_with,
    unfinished,
    worked_since,
)
from buildlog.analysis.workshop.gates import (
    CALIBRATOR,
    OWNER,
    TECHNICIAN,
    Gate,
    closed,
    gates,
    sheets_left,
)
from buildlog.analysis.workshop.wait_book import Wait, open_waits
from buildlog.findings import Finding
from buildlog.records.checks import Step

Task = Literal["calibration", "record", "fault", "list", "drive", "joint", "sheet", "dyno", "due"]

STEP_WORDS: dict[Step, str] = {
    "forced-induction-work": "forced-induction work",
    "running": "starting the engine",
    "light-load-check": "the light-load check",
    "pull": "a full-load pull",
    "hand-back": "handing the car back",
}


@dataclass(frozen=True)
class Action:
    """One thing to do: in words, why, who can do it, and the command to type for it.

    `distance` [m] is what is left to drive, where that is the thing to do. `task` is its kind,
    and `name` the fault, list or joint that it is about.
    """

    step: str
    why: str
    who: str
    command: str | None = None
    distance: float | None = None
    task: Task | None = None
    name: str | None = None


@dataclass(frozen=True)
class Blocked:
    """A step that must not be started yet, why, and by which gate."""

    step: str
    why: str
    who: str
    gate: str
    distance: float | None = None


@dataclass(frozen=True)
class Next:
    """The answer: actions in their order, steps held up, what the car waits for, and what else
    there is to know."""

    actions: tuple[Action, ...]
    blocked: tuple[Blocked, ...]
    findings: tuple[Finding, ...]
    never_measured: bool
    waits: tuple[Wait, ...] = ()


def next_steps(
    history: Sequence[Version], papers: HistoryFiles, margins: Mapping[str, str] | None = None
) -> Next:
    """What to do next. `history` ends with the working files."""
    found = gates(history, papers, margins)
    actions = [*_calibration(history, papers), *_unrecorded(history), *_faults(history, papers)]
    actions += [*_sheets(history, papers), *_lists(found, history, papers), *_driving(found)]
    actions += _joints(history, papers)
    actions += _later(found, papers)
    notes = [gate.finding for gate in found if gate.finding and gate.state == "open"]
    told = (*calibration_match.mismatches(history, papers), *notes)
    words = list(STEP_WORDS.values())
    blocked = sorted(_blocked(found), key=lambda one: words.index(one.step))
    waits = tuple(open_waits(papers.waits))
    return Next(tuple(actions), tuple(blocked), told, not papers.visits, waits)


def _calibration(history: Sequence[Version], papers: HistoryFiles) -> Iterator[Action]:
    for finding in calibration_match.mismatches(history, papers):
        if finding.code == calibration_match.CODE:
            yield Action(
                "settle which calibration is in the car", finding.text, CALIBRATOR,
                "buildlog set calibration.id=...", task="calibration",
            )  # fmt: skip


def _unrecorded(history: Sequence[Version]) -> Iterator[Action]:
    working = history[-1]
    if working.number:
        return
    before = history[-2] if len(history) > 1 else None
    new = sum(map(len, (working.sessions, working.checks, working.faults, working.joints)))
    fields = len(changes(before.configuration, working.configuration)) if before else 0
    if before is None:
        yield Action("record the car as it came", "nothing is recorded yet", TECHNICIAN,
                     'buildlog record -m "as it came" --kind found', task="record")  # fmt: skip
    elif fields or new:
        what = [_count(fields, "field of car.toml", "fields of car.toml")] if fields else []
        what += [_count(new, "new file", "new files")] if new else []
        yield Action("record what was done", f"not yet recorded: {' and '.join(what)}", TECHNICIAN,
                     'buildlog record -m "..."', task="record")  # fmt: skip


def _faults(history: Sequence[Version], papers: HistoryFiles) -> Iterator[Action]:
    for state in fault_book.open_faults(history, papers):
        symptom = state.fault.symptom or state.name
        where = f" ({state.fault.part})" if state.fault.part else ""
        yield Action(f"fix: {symptom}{where}", f"open since {state.fault.date}", TECHNICIAN,
                     f'buildlog fault close {state.name} --remedy "..."', task="fault",
                     name=state.name)  # fmt: skip


def _lists(
    found: Sequence[Gate], history: Sequence[Version], papers: HistoryFiles
) -> Iterator[Action]:
    """Lists that hold something up: begun ones to be finished, others to be started."""
    begun = {done.check.list: done for done in newest_lists(history, papers)}
    seen = set()
    for gate in closed(found):
        if gate.code not in ("first-start", "light-load-check", "check-unfinished"):
            continue
        name = gate.list or gate.code
        if name in seen:
            continue
        seen.add(name)
        done = begun.get(name)
        new = done is not None and done.name in history[-1].checks and unfinished(done.check)
        going_on = (
            done is not None and to_go_on_with(done.check) and not worked_since(history, done)
        )
        verb, command = ("finish", "tick") if new or going_on else ("do", f"start {name}")
        command += f" --list {name}" if going_on and not new else ""
        yield Action(f"{verb} the {name} list", gate.why, gate.who,
                     f"buildlog checklist {command}", task="list", name=name)  # fmt: skip


def _driving(found: Sequence[Gate]) -> Iterator[Action]:
    for gate in closed(found, "pull"):
        if gate.code == "break-in" and gate.distance:
            yield Action(
                "drive on without full load", gate.why, OWNER, None, gate.distance, "drive"
            )
        elif gate.code == "break-in":
            yield Action("do the after-break-in list", gate.why, OWNER,
                         "buildlog checklist start after-break-in", task="list",
                         name="after-break-in")  # fmt: skip


def _sheets(history: Sequence[Version], papers: HistoryFiles) -> Iterator[Action]:
    """Sheets of joints that were begun, or read in, and are not done."""
    for state in sheets_left(history, papers):
        name = state.name.removesuffix(sheet_book.ENDING)
        yield Action(f"tighten: {state.sheet.title}", sheet_book.unfinished(state), TECHNICIAN,
                     f"buildlog torque do {name}", task="sheet", name=name)  # fmt: skip


def _joints(history: Sequence[Version], papers: HistoryFiles) -> Iterator[Action]:
    for state in fastener_book.due(fastener_book.joints(history, papers)):
        text = fastener_book.why_due(state)
        sheet, _, on_sheet = state.name.partition("/")
        command = f'buildlog torque add "{state.joint.joint}" --retorque-of {state.name} ...'
        if on_sheet:
            command = f"buildlog torque do {sheet.removesuffix(sheet_book.ENDING)} --again"
        yield Action(f"tighten again: {state.joint.joint}", text, TECHNICIAN, command,
                     task="joint", name=state.name)  # fmt: skip


def _later(found: Sequence[Gate], papers: HistoryFiles) -> Iterator[Action]:
    """What is free to be done when nothing else is due."""
    held = closed(found, "pull") or closed(found, "running")
    if papers.visits and not held:
        why = "nothing holds up a full-load pull"
        yield Action("ready for the dyno", why, "dyno operator",
                     "buildlog checklist start before-dyno", task="list",
                     name="before-dyno")  # fmt: skip
    for gate in closed(found, "forced-induction-work"):
        yield Action("before any forced-induction work: the intake list", gate.why, gate.who,
                     "buildlog checklist start intake", task="list", name="intake")  # fmt: skip
        break
    for gate in closed(found, "hand-back"):
        if gate.code == "hand-back":
            yield Action("before it goes back: the hand-back list", gate.why, gate.who,
                         "buildlog checklist start hand-back", task="list",
                         name="hand-back")  # fmt: skip


def _blocked(found: Sequence[Gate]) -> Iterator[Blocked]:
    for gate in closed(found):
        yield Blocked(STEP_WORDS[gate.step], gate.why, gate.who, gate.code, gate.distance)
    later: tuple[Step, ...] = ("light-load-check", "pull")
    for gate in closed(found, "running"):
        why = f"the first start comes first: {gate.why}"
        yield from (Blocked(STEP_WORDS[step], why, gate.who, gate.code) for step in later)


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"
