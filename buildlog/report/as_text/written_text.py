"""What was written into the working files, in short, with the line that comes next."""

from __future__ import annotations

import shlex
from pathlib import Path

from buildlog.analysis.car.written import Attached, FieldsSet, WorkAdded
from buildlog.report.as_text.changes_text import value_text


def started_lines(car: Path) -> list[str]:
    """A ledger begun, by the path of its car.toml."""
    folder = car.parent
    return [
        f"started a ledger in {folder}",
        f"  fill in   {car}",
        "  what is not known is left out; it will be said to be missing where it counts",
        f"next: cd {shlex.quote(str(folder))} && buildlog check",
    ]


def set_lines(done: FieldsSet) -> list[str]:
    """Each field that is another now, as it was and as it is."""
    lines = [
        f"{path}: {value_text(was, path)} -> {value_text(now, path)}"
        for path, was, now in done.changed
    ]
    if not done.was_valid:
        lines.append("car.toml was not valid before, and is now")
    elif not done.changed:
        lines.append("the same as before, physically")
    return [*lines, f"next: {done.record.line}"]


def work_lines(done: WorkAdded) -> list[str]:
    """The item, and who may do such work."""
    first = f"work: {done.item}" + (f" - {done.note}" if done.note else "")
    said = [f"{finding.severity}: {finding.text}" for finding in done.findings]
    return [first, *said, f"next: {done.record.line}"]


def attached_lines(done: Attached) -> list[str]:
    """Each copy, with what was left out of it."""
    lines = []
    for path, removed in zip(done.paths, done.left_out, strict=True):
        words = f" (left out: {', '.join(removed)})" if removed else ""
        lines.append(f"copied to {path}{words}")
    return [*lines, f"next: {done.record.line}"]
