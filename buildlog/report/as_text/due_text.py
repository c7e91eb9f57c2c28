"""What comes due, on a screen."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from buildlog.analysis.answers.due_steps import rate_days, why
from buildlog.analysis.car.written import Written
from buildlog.analysis.workshop.due_book import DueState
from buildlog.analysis.workshop.fastener_book import JointState
from buildlog.report.in_units import in_units
from buildlog.report.lines import finding_lines, table, wrap
from buildlog.report.numbers import Display, count


def due_lines(states: Sequence[DueState], show: Display, day: dt.date) -> list[str]:
    """Each thing with its day or what is left, and at which rate that was reckoned."""
    if not states:
        often = "5000 mi" if show.system == "us" else "10000 km"
        return [
            "nothing is set to come due",
            f'next: buildlog due add "engine oil" --every "{often} or 12 months"',
        ]
    now = sum(one.is_due(day) for one in states)
    rows = [["", "when", "left", "every"]]
    rows += [
        [one.name, _when(one, day), left_words(one, show), in_units(one.due.every)]
        for one in states
    ]
    lines = [f"{now or 'nothing'} of {len(states)} due on {day}", *table(rows)]
    for one in states:
        lines += wrap(in_units(f"{one.name}: {why(one)}"), 4, 2)
    rate = next((one.rate for one in states if one.rate is not None), None)
    if rate is not None:
        far = show.value(rate.per_day, "length", 1)
        lines += wrap(f"days by distance: at {far} a day ({rate_days(rate)})", 4, 2)
    first = next((one for one in states if one.is_soon(day)), states[0])
    return [*lines, f'next: buildlog due done "{first.name}"']


def _when(one: DueState, day: dt.date) -> str:
    if one.is_due(day):
        return "due"
    if one.on is None or one.missing:  # what is missing may bring it sooner
        return "unknown"
    return f"about {one.on}" if one.estimated else str(one.on)


def left_words(one: DueState, show: Display) -> str:
    """Distance or count that is left at the last reading; "" where the calendar alone counts."""
    told = []
    if one.left is not None:
        told.append(f"{show.distance(abs(one.left))}{' over' if one.left < 0 else ''}")
    if one.left_count is not None:
        told.append(f"{abs(one.left_count)}{' over' if one.left_count < 0 else ''}")
    return " or ".join(told)


def again_words(one: JointState, show: Display) -> str:
    """ "in 80 mi", "in 2 heat cycles"; "" where it is not known when a joint comes again."""
    told = [show.distance(one.left)] if one.left is not None else []
    told += [count(one.left_cycles, "heat cycle")] if one.left_cycles is not None else []
    return f"in {' or '.join(told)}" if told else ""


def due_written_lines(done: Written) -> list[str]:
    """A file that was written, and the line to record it with."""
    lines = [f"written: {path}" for path in done.paths]
    return [*lines, *finding_lines(done.findings, 0), f"next: {done.record.line}"]
