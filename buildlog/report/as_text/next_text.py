"""What to do next, on one screen."""

from __future__ import annotations

from buildlog.analysis.answers.next_steps import Action, Blocked, Next
from buildlog.analysis.workshop.calibration_match import CODE
from buildlog.report.lines import finding_lines, wrap
from buildlog.report.numbers import Display

CLOSING = (
    "gates are the usual order of work, not approvals; local codes and licensed practice decide"
)


def next_lines(found: Next, shown: Display, full: bool = False) -> list[str]:
    """The screen: the first line answers, the last is the command to type."""
    mismatch = [f for f in found.findings if f.code == CODE]
    actions = list(found.actions)
    lines = wrap(mismatch[0].text, 2, 0) if mismatch else []
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
    lines += _blocked(found.blocked, shown)
    others = [f for f in found.findings if f.code != CODE]
    lines += finding_lines(others, 0)
    if found.never_measured:
        lines.append("never measured on a dyno: nothing here depends on one")
    lines += wrap(CLOSING)
    return [*lines, f"next: {_command(actions)}"]


def _first(action: Action, word: str, why_is_said: bool, shown: Display) -> list[str]:
    lines = wrap(f"{word}: {_doing(action, shown)}", 2, 0)
    lines += [] if why_is_said else wrap(action.why, 2, 2)
    return lines + ([f"  {action.command}"] if action.command else [])


def _action(action: Action, shown: Display) -> list[str]:
    lines = wrap(f"- {_doing(action, shown)}", 4, 2) + wrap(action.why, 4, 4)
    return lines + ([f"    {action.command}"] if action.command else [])


def _doing(action: Action, shown: Display) -> str:
    return f"{action.step}{_left(action.distance, shown)} ({action.who})"


def _blocked(blocked: tuple[Blocked, ...], shown: Display) -> list[str]:
    if not blocked:
        return ["nothing is held up"]
    lines = ["not before that is done:"]
    for step in dict.fromkeys(one.step for one in blocked):
        lines.append(f"  {step}")
        for one in blocked:
            if one.step == step:
                lines += wrap(f"- {one.why}{_left(one.distance, shown)}", 6, 4)
    return lines


def _left(distance: float | None, shown: Display) -> str:
    return f", {shown.distance(distance)} left" if distance else ""


def _command(actions: list[Action]) -> str:
    commands = [one.command for one in actions if one.command]
    return commands[0] if commands and "..." not in commands[0] else "buildlog check"
