"""Tightening records: one written down, and the list."""

from __future__ import annotations

from collections.abc import Sequence

from buildlog.analysis.workshop.fastener_book import JointState, JointWritten
from buildlog.report.lines import finding_lines, shorten, table
from buildlog.report.numbers import Display
from buildlog.units import Quantity

DUE = {
    "due": "due",
    "done": "done",
    "unknown": "unknown",
    "gone": "gone",
    "none": "-",
}


def tightened_lines(done: JointWritten) -> list[str]:
    """A joint written down, against what was asked for and what its grade can carry."""
    usual = done.usual
    again = f"; usual for this thread and grade {usual:.0f} N*m at 75 % of proof" if usual else ""
    return [
        f"{done.joint.joint}: {len(done.joint.fastener)} fasteners{again}",
        *(finding_lines(done.findings) or ["  nothing to look at"]),
        f"  {done.paths[0]}, not yet recorded",
        f"next: {done.record.line}",
    ]


def joint_lines(found: Sequence[JointState], shown: Display, full: bool = False) -> list[str]:
    """One line a joint: when, what it got, what was asked for, when again; then what is odd."""
    odd = [state for state in found if any(f.severity != "note" for f in state.findings)]
    due = [state for state in found if state.due == "due"]
    first = f"{len(found)} joints tightened, {len(odd)} to look at, {len(due)} due again"
    rows = [["joint", "date", "got", "asked for", "again"]]
    rows += [_row(state, shown) for state in found]
    findings = [one for state in found for one in state.findings]
    shown_findings = findings if full else [f for f in findings if f.severity != "note"]
    lines = [first, *table(rows, right=(2, 3)), *finding_lines(shown_findings, 0)]
    if not found:
        lines = ["no tightening record yet"]
    example = 'buildlog torque add "header flange" --thread M8x1.25 --count 12 --torque "22 N*m"'
    return [*lines, f"next: {'buildlog next' if found else example}"]


def _row(state: JointState, shown: Display) -> list[str]:
    joint = state.joint
    again = DUE.get(state.due) or f"in {shown.distance(state.left)}"
    return [
        shorten(joint.joint, 28),
        joint.date.isoformat(),
        _range([one.torque for one in joint.fastener if one.torque]),
        _range([one for one in (joint.spec_low, joint.spec_high) if one]),
        again,
    ]


def _range(values: Sequence[Quantity]) -> str:
    """ "22 to 24 N*m", in the author's unit."""
    if not values:
        return "-"
    low, high = min(values, key=lambda q: q.si), max(values, key=lambda q: q.si)
    if low.si == high.si or low.unit != high.unit:
        return low.text if low.si == high.si else f"{low.text} to {high.text}"
    return f"{low.number:g} to {high.text}"
