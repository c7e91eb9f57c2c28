"""What was taken out of the folder before it was recorded, and the way back."""

from __future__ import annotations

from collections.abc import Sequence

from buildlog.report.lines import table
from buildlog.report.numbers import count

DAYS = 7


def thing_lines(things: Sequence[tuple[str, str]]) -> list[str]:
    """Each thing by name, and what it is."""
    return table([[name, words] for name, words in things])


def discarded_lines(things: Sequence[tuple[str, str]], kept: str) -> list[str]:
    """What was taken out, how long it is kept, how it comes back."""
    lines = [f"taken out: {_count(things)}", *thing_lines(things)]
    lines.append(f"  kept on this computer for {DAYS} days")
    return [*lines, f"next: buildlog discard --back {kept} puts it back"]


def would_lines(things: Sequence[tuple[str, str]]) -> list[str]:
    """What `--all` would take out."""
    lines = [f"not recorded, nothing taken out yet: {_count(things)}", *thing_lines(things)]
    return [*lines, "next: buildlog discard --all --yes"]


def back_lines(paths: Sequence[str], kept: Sequence[tuple[str, Sequence[str]]]) -> list[str]:
    """What was put back, else what is kept."""
    if paths:
        return ["put back:", *(f"  {path}" for path in paths), "next: buildlog next"]
    if not kept:
        return ["nothing is kept", "next: buildlog next"]
    lines = [f"kept for {DAYS} days after it was taken out:"]
    lines += table([[name, ", ".join(paths[:3]) + (", ..." if len(paths) > 3 else "")]
                    for name, paths in kept])  # fmt: skip
    return [*lines, f"next: buildlog discard --back {kept[-1][0]}"]


def _count(things: Sequence[tuple[str, str]]) -> str:
    return count(len(things), "thing")
