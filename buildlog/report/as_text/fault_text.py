"""Faults: one written down or closed, and the list."""

from __future__ import annotations

from collections.abc import Sequence

from buildlog.analysis.workshop.fault_book import FaultClosed, FaultOpened, FaultState
from buildlog.report.lines import wrap
from buildlog.report.numbers import Display

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


def fault_lines(found: Sequence[FaultState], shown: Display) -> list[str]:
    """Open ones first; each with where it stands and what the part had run."""
    opened = [one for one in found if one.open]
    holding = sum(one.fault.holds_up_full_load for one in opened)
    first = f"{len(opened)} open of {len(found)} faults"
    lines = [first + (f", {holding} of them hold up full load" if opened else "")]
    if not found:
        lines = ["no fault is written down"]
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
    rows += [("cause", cause)] if cause else []
    rows += [("remedy", closing.remedy)] if closing and closing.remedy else []
    rows += [("closed by", f"{state.closed_by}")] if state.closed else []
    for name, text in rows:
        lines += wrap(f"{name:<14}{text}", 24, 10)
    return lines
