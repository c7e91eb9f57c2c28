"""A maker's sheet of joints: how it was read, what each stage asks for, what was done."""

from __future__ import annotations

from collections.abc import Sequence

from buildlog.analysis.car import sheet_book
from buildlog.analysis.car.sheet_book import SheetState, SheetWritten, StageAsked, StageWritten
from buildlog.records.fasteners import Fastened, StageDone
from buildlog.report.in_units import in_units
from buildlog.report.lines import finding_lines, table, wrap
from buildlog.report.numbers import count

ANSWERS = (
    "done, or the value (30, 22 lb*ft), 3=28 for fastener 3 alone, 'read' behind a value that was "
    "read and not set; Enter later, q stop"
)


def sheet_read_lines(done: SheetWritten) -> list[str]:
    """A sheet that was read in: what its columns were taken as, its joints, what to type next."""
    state = done.state
    fasteners = sum(joint.count for joint in state.joints)
    lines = wrap(
        f"{state.sheet.title}: {count(len(state.joints), 'joint')}, {count(fasteners, 'fastener')}",
        2,
        0,
    )
    for one in done.read:
        lines += wrap(one, 4, 2)
    lines += table([["joint", "no.", "thread", "stages"], *map(_asked_row, state.joints)])
    lines += finding_lines(done.findings)
    return [*lines, f"  {done.paths[0]}, not yet recorded", f"next: {_do(state)}"]


def sheet_lines(state: SheetState) -> list[str]:
    """A sheet as it stands: what is asked, what was done, what is left."""
    lines = wrap(f"{state.progress}{_since(state)}", 2, 0)
    rows = [["joint", "no.", "asked for", "done", "by"], *map(_done_row, state.joints)]
    lines += [*table(rows), *finding_lines(sheet_book.findings(state, alone=True))]
    return [*lines, f"  torque/{state.name}.toml", f"next: {_next(state)}"]


def stage_lines(done: StageWritten) -> list[str]:
    """A stage that was written down: what it got, and at once whether that is what is asked."""
    assert done.joint is not None
    assert done.stage is not None
    head = f"{done.joint.name}, stage {done.stage.number} of {done.stage.of}"
    got = ", ".join(map(_got, done.got)) or "taken back"
    return [*wrap(f"{head}: {got}", 4, 2), *finding_lines(done.findings, 4)]


def stage_end_lines(done: StageWritten) -> list[str]:
    """A stage that was written down by itself, and what to type next."""
    return [*stage_lines(done), *_so_far(done)]


def went_through_lines(done: SheetWritten) -> list[str]:
    """How far a sheet was gone through, and what to type next."""
    return _so_far(done)


def stage_asked_lines(one: StageAsked) -> list[str]:
    """What is asked of a person for one stage of one joint."""
    joint, stage = one.joint, one.stage
    which = count(joint.count, "fastener")
    if len(one.fasteners) < joint.count:
        which = f"fasteners {_numbers(one.fasteners)}"
    thread = " ".join(filter(None, (joint.thread, joint.grade, joint.condition)))
    rest = ", ".join(filter(None, (which, thread, joint.order, joint.tool)))
    turn = "turn on by " if stage.turns else ""
    head = f"{one.number}/{one.of} {joint.name}, stage {stage.number} of {stage.of}"
    lines = wrap(f"{head}: {turn}{stage.asked}  ({rest})", 4, 0)
    return lines + (wrap(joint.note, 4, 4) if joint.note and stage.number == 1 else [])


def _so_far(done: SheetWritten) -> list[str]:
    state = done.state
    line = done.record.line if state.done else _do(state)
    return [*wrap(state.progress, 4, 2), f"next: {line}"]


def _next(state: SheetState) -> str:
    return "buildlog next" if state.done else _do(state)


def _do(state: SheetState) -> str:
    return f"buildlog torque do {state.name.removesuffix(sheet_book.ENDING)}"


def _since(state: SheetState) -> str:
    before = f", goes on with {state.sheet.continues}" if state.sheet.continues else ""
    again = f", again after {state.sheet.retorque_of}" if state.sheet.retorque_of else ""
    return f" ({state.sheet.date}{before}{again})"


def _asked_row(joint: Fastened) -> list[str]:
    thread = " ".join(filter(None, (joint.thread, joint.grade)))
    asked = in_units(", ".join(one.asked for one in sheet_book.stages(joint)))
    return [joint.name, f"{joint.count}", thread, asked]


def _done_row(joint: Fastened) -> list[str]:
    known = sheet_book.stages(joint)
    open_stages = sheet_book.left(joint)
    asked = in_units(", ".join(one.asked for one in known))
    if not joint.done:
        return [joint.name, f"{joint.count}", asked, "not done", ""]
    last = [one for one in joint.done if one.stage == max(d.stage for d in joint.done)]
    so_far = f" (left: {', '.join(_left(*one, joint) for one in open_stages)})"
    got = ", ".join(dict.fromkeys(map(_got, last))) if len(last) < 4 else _range(last)
    who = ", ".join(dict.fromkeys(one.who for one in joint.done if one.who))
    return [joint.name, f"{joint.count}", asked, got + (so_far if open_stages else ""), who]


def _left(stage: sheet_book.Stage, fasteners: Sequence[int], joint: Fastened) -> str:
    some = "" if len(fasteners) == joint.count else f" on {_numbers(fasteners)}"
    return f"stage {stage.number}{some}"


def _numbers(fasteners: Sequence[int]) -> str:
    """ "1, 2, 4 to 12"."""
    runs: list[list[int]] = []
    for number in fasteners:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    apart = ([f"{run[0]} to {run[-1]}"] if len(run) > 2 else map(str, run) for run in runs)
    return ", ".join(text for texts in apart for text in texts)


def _got(one: StageDone) -> str:
    """ "30 N*m set", "3: 28 N*m read", "90 deg"."""
    which = f"{one.number}: " if one.number else ""
    how = {"tool setting": " set", "reading": " read"}.get(one.how or "", "")
    return f"{which}{in_units(one.value.text)}{how if one.value.dimension == 'torque' else ''}"


def _range(done: Sequence[StageDone]) -> str:
    low, high = (pick(done, key=lambda one: one.value.si) for pick in (min, max))
    one, other = in_units(low.value.text), in_units(high.value.text)
    return one if low.value == high.value else f"{one} to {other}"
