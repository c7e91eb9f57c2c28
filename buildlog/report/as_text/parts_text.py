"""The parts in the car: which, since when, by whom, and the distance on each."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from buildlog.analysis.car.version import Version
from buildlog.analysis.workshop.partlife import PartLife
from buildlog.report.lines import shorten, table, wrap
from buildlog.report.numbers import Display


def parts_lines(found: Sequence[PartLife], version: Version, shown: Display) -> list[str]:
    """One line a part; below it what is left of its break-in; why distances are unknown.

    Tables that name no piece (intake, cooling) are left out; JSON has them.
    """
    pieces = [life for life in found if life.fitted or life.identity.words or life.condition]
    here = [life for life in pieces if life.fitted]
    older = len(pieces) - len(here)
    first = f"{len(pieces)} parts at {version.name}: {len(here)} fitted in this ledger"
    lines = [f"{first}, {older} there before"]
    rows = [["part", "which", "since", "by", "distance on it"]]
    body = table(rows + [_row(life, shown) for life in pieces], right=(4,))
    lines.append(body[0])
    for life, line in zip(pieces, body[1:], strict=True):
        lines += [line, *_break_in(life, shown)]
    lines.append("  < was there before that entry; * declared, not counted by this ledger")
    reasons = Counter(life.why_unknown for life in pieces if life.why_unknown)
    for reason, count in reasons.most_common():
        lines += wrap(f"unknown ({count}): {reason}", 4, 2)
    return [*lines, "next: buildlog next"]


def _row(life: PartLife, shown: Display) -> list[str]:
    which = life.identity.words or life.condition or "-"
    run = shown.distance(life.distance)
    since = life.entry if life.fitted else f"< {life.entry}"
    basis = " *" if life.basis == "declared" and life.distance is not None else ""
    return [shorten(life.name, 24), shorten(which, 20), since, life.by or "-", f"{run}{basis}"]


def _break_in(life: PartLife, shown: Display) -> list[str]:
    if life.break_in is None:
        return []
    asked = life.break_in_asked.text if life.break_in_asked else shown.distance(life.break_in)
    if life.break_in_left is None:
        return wrap(f"break-in {asked}: unknown, {life.break_in_why}", 6, 4)
    left = f"{shown.distance(life.break_in_left)} left" if life.break_in_left else "done"
    return [f"    break-in {asked}: {left}"]
