"""What to do next, what a look at the working files found, and a walk around the car."""

from __future__ import annotations

from collections.abc import Sequence

from buildlog.analysis.answers.look_answers import CheckReading
from buildlog.analysis.answers.next_steps import STEP_WORDS, Action, Blocked, Next
from buildlog.analysis.car.missing import Missing
from buildlog.analysis.workshop.calibration_match import CODE
from buildlog.analysis.workshop.found import OUTCOMES, WalkWritten
from buildlog.analysis.workshop.gates import Gate
from buildlog.findings import Finding
from buildlog.report.as_text.waits_text import wait_lines
from buildlog.report.in_units import in_units
from buildlog.report.lines import finding_lines, wrap
from buildlog.report.numbers import Display, count

CLOSING = (
    "this is the usual order of work, not an approval; local codes and licensed practice decide"
)


def next_lines(found: Next, shown: Display, full: bool = False) -> list[str]:
    """The screen: the first line answers, the last is the command to type."""
    mismatch = [f for f in found.findings if f.code == CODE]
    actions = list(found.actions)
    lines = wrap(in_units(mismatch[0].text), 2, 0) if mismatch else []
    if actions:
        lines += _first(actions[0], "do" if mismatch else "next", bool(mismatch), shown)
    elif not mismatch:
        lines.append("nothing is due")
    most = len(actions) if full else 6
    lines += ["then:"] if len(actions) > 1 else []
    for action in actions[1:most]:
        lines += _action(action, shown)
    if len(actions) > most:
        lines.append(f"  and {len(actions) - most} more (--full)")
    lines += ["waits for:"] if found.waits else []
    lines += [line for one in found.waits for line in wait_lines(one)]
    lines += _blocked(found.blocked, shown)
    others = [f for f in found.findings if f.code != CODE]
    lines += finding_lines(others, 0)
    if found.never_measured:
        lines.append("never measured on a dyno: nothing here depends on one")
    lines += wrap(CLOSING)
    return [*lines, f"next: {_command(actions)}"]


def _first(action: Action, word: str, why_is_said: bool, shown: Display) -> list[str]:
    lines = wrap(f"{word}: {_doing(action, shown)}", 2, 0)
    lines += [] if why_is_said else wrap(in_units(action.why), 2, 2)
    return lines + ([f"  {action.command}"] if action.command else [])


def _action(action: Action, shown: Display) -> list[str]:
    lines = wrap(f"- {_doing(action, shown)}", 4, 2) + wrap(in_units(action.why), 4, 4)
    return lines + ([f"    {action.command}"] if action.command else [])


def _doing(action: Action, shown: Display) -> str:
    return f"{action.step}{_left(action.distance, shown)} ({action.who})"


def _blocked(blocked: tuple[Blocked, ...], shown: Display) -> list[str]:
    if not blocked:
        return ["nothing is held up"]
    lines = ["do not start yet:"]
    for step in dict.fromkeys(one.step for one in blocked):
        lines.append(f"  {step}")
        for one in blocked:
            if one.step == step:
                lines += wrap(f"- {in_units(one.why)}{_left(one.distance, shown)}", 6, 4)
    return lines


def _left(distance: float | None, shown: Display) -> str:
    return f", {shown.distance(distance)} left" if distance else ""


def _command(actions: list[Action]) -> str:
    commands = [one.command for one in actions if one.command]
    return commands[0] if commands and "..." not in commands[0] else "buildlog check"


MOST_NOTES = 6


def walk_lines(done: WalkWritten) -> list[str]:
    """A walk around the car: how many parts were as recorded, and which differ."""
    said = ", ".join(f"{done.counts[one]} {words}" for one, words in OUTCOMES.items())
    differing = [f"  differs  {path}: {words}" for path, words in done.differing]
    return [
        f"{count(sum(done.counts.values()), 'part')}: {said}",
        *differing,
        f"next: {done.record.line}",
    ]


def check_lines(found: CheckReading, shown: Display, full: bool = False) -> list[str]:
    """The screen: the first line answers."""
    findings = found.findings
    mismatch = [f for f in findings if f.code == CODE]
    others = [f for f in findings if f.code != CODE]
    lines = wrap(in_units(mismatch[0].text), 2, 0) if mismatch else []
    if mismatch and mismatch[0].hint:
        lines += wrap(f"do: {in_units(mismatch[0].hint)}", 4, 2)
    lines.append(_summary(found.read, findings))
    notes = [f for f in others if f.severity == "note"]
    lines += finding_lines([f for f in others if f.severity != "note"], 0)
    lines += finding_lines(notes if full else notes[:MOST_NOTES], 0)
    if len(notes) > MOST_NOTES and not full:
        lines.append(f"  and {count(len(notes) - MOST_NOTES, 'more note')} (--full)")
    lines += _held_up(found.gates, shown) + _lacking(found.missing, full)
    if any(f.severity == "error" for f in findings):
        return [*lines, "fix the errors first: nothing can be recorded before",
                "next: buildlog check"]  # fmt: skip
    return [*lines, "next: buildlog next"]


def _summary(read: int, findings: Sequence[Finding]) -> str:
    counts = {
        word: sum(f.severity == word for f in findings) for word in ("error", "caution", "note")
    }
    said = [count(n, word) for word, n in counts.items() if n]
    return f"{count(read, 'file')} read: {', '.join(said) if said else 'nothing to look at'}"


def _held_up(gates: Sequence[Gate], shown: Display) -> list[str]:
    lines = ["held up:"] if gates else []
    for gate in gates:
        left = f", {shown.distance(gate.distance)} left" if gate.distance else ""
        lines += wrap(f"{STEP_WORDS[gate.step]}: {in_units(gate.why)}{left}", 4, 2)
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
