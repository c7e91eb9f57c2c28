"""Faults and tightened joints: one written down, and the lists."""

from __future__ import annotations

from collections.abc import Sequence

from buildlog.analysis.workshop.fastener_book import JointState, JointWritten
from buildlog.analysis.workshop.fault_book import FaultClosed, FaultOpened, FaultState
from buildlog.report.as_text.due_text import again_words
from buildlog.report.lines import finding_lines, table, wrap
from buildlog.report.numbers import Display, count, declared
from buildlog.units import Quantity

_WHOSE = {"standard": "standard", "maker": "the maker's own", "reserved": "reserved"}


def opened_lines(done: FaultOpened) -> list[str]:
    """A fault written down, what its codes say, and what waits for it."""
    part = f" ({done.fault.part})" if done.fault.part else ""
    lines = wrap(f"fault: {done.fault.symptom}{part}", 2, 0)
    for code in done.codes:
        lines += wrap(f"{code.text}  {code.group}, {_WHOSE[code.kind]}", 4, 2)
    held = "; full load waits until it is closed" if done.fault.holds_up_full_load else ""
    lines += wrap(f"{done.paths[0]}, not yet recorded{held}", 4, 2)
    return [*lines, f"next: {done.record.line}"]


def closed_lines(done: FaultClosed) -> list[str]:
    """A fault closed."""
    return [
        f"closed: {done.closed.fault.symptom or done.closed.name}",
        f"  {done.paths[0]}, not yet recorded",
        f"next: {done.record.line}",
    ]


def _holding(some: int, of: int) -> str:
    if of == 1:
        return f"which {'holds' if some else 'does not hold'} up full load"
    return f"{some or 'none'} of them hold{'s' if some < 2 else ''} up full load"


def fault_lines(found: Sequence[FaultState], shown: Display) -> list[str]:
    """Open ones first; each with where it stands and what the part had run."""
    opened = [one for one in found if one.open]
    holding = sum(one.fault.holds_up_full_load for one in opened)
    first = count(len(opened), "open fault") if opened else "no open fault"
    first += f", {_holding(holding, len(opened))}" if opened else ""
    closed = len(found) - len(opened)
    lines = [f"{first}; {closed} closed" if closed else first]
    for one in [*opened, *(s for s in found if not s.open)]:
        lines += _one(one, shown)
    command = f'buildlog fault close {opened[0].name} --remedy "..."' if opened else "buildlog next"
    return [*lines, f"next: {command}"]


def _one(state: FaultState, shown: Display) -> list[str]:
    fault = state.fault
    word = "open" if state.open else "closed"
    lines = wrap(f"{word:<7} {fault.date}  {fault.symptom or state.name}", 10, 2)
    odometer = shown.distance(fault.odometer.si if fault.odometer else None)
    rows = [("part", fault.part or "not named"), ("odometer", odometer)]
    if fault.part:
        run = shown.distance(state.part_distance)
        rows.append(("part had run", run + (f" ({state.part_why})" if state.part_why else "")))
    if fault.codes:
        rows.append(("codes", ", ".join(fault.codes)))
    closing = state.closing
    cause = (closing.cause if closing else None) or fault.cause
    rows += [("found in", fault.found_in)] if fault.found_in else []
    rows += [("cause", cause)] if cause else []
    rows += [("remedy", closing.remedy)] if closing and closing.remedy else []
    rows += [("closed by", f"{state.closed_by}")] if state.closed else []
    for name, text in rows:
        lines += wrap(f"{name:<14}{text}", 24, 10)
    return lines


DUE = {
    "due": "due",
    "done": "done",
    "unknown": "unknown",
    "gone": "gone",
    "none": "-",
}


def tightened_lines(done: JointWritten) -> list[str]:
    """A joint written down, against what was asked for and what its grade can carry."""
    again = ""
    torque = next((one.torque for one in done.joint.fastener if one.torque), None)
    if done.usual and torque:
        usual = f"{torque.unit.from_si(done.usual):.0f} {torque.unit.text}"  # as the tool shows it
        again = f"; usual for this thread and grade {usual} at 75 % of proof"
    return [
        f"{done.joint.joint}: {count(len(done.joint.fastener), 'fastener')}{again}",
        *(finding_lines(done.findings) or ["  nothing to look at"]),
        f"  {done.paths[0]}, not yet recorded",
        f"next: {done.record.line}",
    ]


def joint_lines(found: Sequence[JointState], shown: Display, full: bool = False) -> list[str]:
    """One line a joint: when, what it got, what was asked for, when again; then what is odd."""
    odd = [state for state in found if any(f.severity != "note" for f in state.findings)]
    due = [state for state in found if state.due == "due"]
    first = f"{count(len(found), 'joint')} tightened, {len(odd)} to look at, {len(due)} due again"
    cells = [_row(state, shown) for state in found]
    units = {text.rpartition(" ")[2] for row in cells for text in row[2:4] if text != "-"}
    of = ""
    if len(units) == 1:
        of = f", {units.pop()}"
        cells = [[*row[:2], *(text.rpartition(" ")[0] or text for text in row[2:4]), row[4]]
                 for row in cells]  # fmt: skip
    rows = [["joint", "date", f"got{of}", f"specified{of}", "again"], *cells]
    findings = [one for state in found for one in state.findings]
    shown_findings = findings if full else [f for f in findings if f.severity != "note"]
    lines = [first, *table(rows, right=(2, 3)), *finding_lines(shown_findings, 0)]
    if not found:
        lines = ["no tightening record yet"]
    example = 'buildlog torque add "header flange" --thread M8x1.25 --count 12 --torque "22 N*m"'
    return [*lines, f"next: {'buildlog next' if found else example}"]


def _row(state: JointState, shown: Display) -> list[str]:
    joint = state.joint
    again = DUE.get(state.due) or again_words(state, shown)
    return [
        joint.joint,
        joint.date.isoformat(),
        tightening_range([one.torque for one in joint.fastener if one.torque]) or "-",
        tightening_range([one for one in (joint.spec_low, joint.spec_high) if one]) or "-",
        again,
    ]


def tightening_range(values: Sequence[Quantity]) -> str:
    """ "22 to 24 N*m", in the author's unit or in those that were asked for."""
    if not values:
        return ""
    low, high = min(values, key=lambda q: q.si), max(values, key=lambda q: q.si)
    least, most = declared(low), declared(high)
    if low.si == high.si:
        return least
    one_unit = least.partition(" ")[2] == most.partition(" ")[2]
    return f"{least.partition(' ')[0] if one_unit else least} to {most}"
