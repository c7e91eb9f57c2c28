"""What `check` found: calibration first, then what is wrong, held up, missing; and a walk."""

from __future__ import annotations

from collections.abc import Sequence

from buildlog.analysis.answers.next_steps import STEP_WORDS
from buildlog.analysis.car.missing import Missing
from buildlog.analysis.workshop.calibration_match import CODE
from buildlog.analysis.workshop.check_reading import CheckReading
from buildlog.analysis.workshop.found import OUTCOMES, WalkWritten
from buildlog.analysis.workshop.gates import Gate
from buildlog.findings import Finding
from buildlog.report.lines import finding_lines, wrap
from buildlog.report.numbers import Display, plain

MOST_NOTES = 6


def walk_lines(done: WalkWritten) -> list[str]:
    """A walk around the car: how many parts were as recorded, and which differ."""
    said = ", ".join(f"{done.counts[one]} {words}" for one, words in OUTCOMES.items())
    differing = [f"  differs  {path}: {words}" for path, words in done.differing]
    return [f"{sum(done.counts.values())} parts: {said}", *differing, f"next: {done.record.line}"]


def check_lines(found: CheckReading, shown: Display, full: bool = False) -> list[str]:
    """The screen: the first line answers."""
    findings = found.findings
    mismatch = [f for f in findings if f.code == CODE]
    others = [f for f in findings if f.code != CODE]
    lines = wrap(mismatch[0].text, 2, 0) if mismatch else []
    if mismatch and mismatch[0].hint:
        lines += wrap(f"do: {mismatch[0].hint}", 4, 2)
    lines.append(_summary(found.read, findings))
    notes = [f for f in others if f.severity == "note"]
    lines += finding_lines([f for f in others if f.severity != "note"], 0)
    lines += finding_lines(notes if full else notes[:MOST_NOTES], 0)
    if len(notes) > MOST_NOTES and not full:
        lines.append(f"  and {len(notes) - MOST_NOTES} more notes (--full)")
    lines += _held_up(found.gates, shown) + _lacking(found.missing, full)
    if any(f.severity == "error" for f in findings):
        return [*lines, "nothing can be recorded before the errors are mended",
                "next: buildlog check"]  # fmt: skip
    return [*lines, "next: buildlog next"]


def _summary(read: int, findings: Sequence[Finding]) -> str:
    counts = {
        word: sum(f.severity == word for f in findings) for word in ("error", "caution", "note")
    }
    said = [f"{n} {word}{'s' if n > 1 else ''}" for word, n in counts.items() if n]
    files = f"{plain(read)} {'file' if read == 1 else 'files'} read"
    return f"{files}: {', '.join(said) if said else 'nothing to look at'}"


def _held_up(gates: Sequence[Gate], shown: Display) -> list[str]:
    lines = ["held up:"] if gates else []
    for gate in gates:
        left = f", {shown.distance(gate.distance)} left" if gate.distance else ""
        lines += wrap(f"{STEP_WORDS[gate.step]}: {gate.why}{left}", 4, 2)
    return lines


def _lacking(lacking: Sequence[Missing], full: bool) -> list[str]:
    if not lacking:
        return []
    lines = ["missing (unknown is not clear):"]
    for one in lacking if full else lacking[:8]:
        lines += wrap(f"{one.computation}: {', '.join(one.fields)}", 4, 2)
    if len(lacking) > 8 and not full:
        lines.append(f"  and {len(lacking) - 8} more (--full)")
    return lines
