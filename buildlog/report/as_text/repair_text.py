"""What `buildlog repair` says: the whole lines that were found, what proves them, what was done."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from buildlog.report.lines import wrap
from buildlog.report.numbers import count

if TYPE_CHECKING:
    from buildlog.store.verify.branch_repair import RepairDone, WholeLine

_LACKS = 6  # that are listed


def repair_lines(done: RepairDone) -> list[str]:
    """Each line with what it lacks, and what became of the branch."""
    lines = [f"the branch main holds {done.old if done.old in ('none', 'torn') else done.old[:8]}"]
    for line in done.lines:
        lines += _line(line)
    if done.adopted:
        told = f"main is set to {done.adopted.tip[:8]}; the next entry says so, and verify for ever"
        return [*lines, *wrap(told, 2, 0), "next: buildlog verify"]
    return [
        *lines,
        *wrap("nothing was changed; only a line that is the only one, listed and complete is "
              "adopted by itself: type the whole id of the one that is yours", 2, 0),
        f"next: buildlog repair --to {done.lines[0].tip}",
    ]  # fmt: skip


def repair_json(done: RepairDone) -> dict[str, Any]:
    """The body of `repair --json`."""
    return {
        "held": done.old,
        "adopted": done.adopted.tip if done.adopted else None,
        "lines": [
            {"tip": line.tip, "entries": line.entries, "newest": line.newest.work_date.isoformat(),
             "subject": line.newest.subject, "listed": line.listed, "lacks": list(line.lacks)}
            for line in done.lines
        ],
    }  # fmt: skip


def _line(line: WholeLine) -> list[str]:
    newest = line.newest
    told = (f"{line.tip}: {count(line.entries, 'entry', 'entries')}, all whole; the newest is "
            f"{newest.work_date}, {newest.subject}")  # fmt: skip
    lines = wrap(told, 4, 2)
    listed = (
        "a list of recorded ids holds it" if line.listed else "no list of recorded ids holds it"
    )
    lines += wrap(listed, 6, 4)
    for word in line.lacks[:_LACKS]:
        lines += wrap(f"lacks {word}", 6, 4)
    return lines + (
        [f"    and {len(line.lacks) - _LACKS} more"] if len(line.lacks) > _LACKS else []
    )
