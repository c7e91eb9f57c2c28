"""What comes due, as things to do and in the words of every screen."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence

from buildlog.analysis.answers.next_steps import Action
from buildlog.analysis.workshop.due_book import DueState, Rate
from buildlog.analysis.workshop.gates import TECHNICIAN
from buildlog.findings import how_many


def due_actions(states: Sequence[DueState], day: dt.date) -> Iterator[Action]:
    """What is due or will be within a month, and what never was done on record."""
    for one in states:
        if one.is_soon(day) or (one.on is None and one.missing):
            word = "due" if one.is_due(day) else "due soon" if one.on else "due, when is not known"
            line = f'buildlog due done "{one.name}"'
            left = one.left if one.left is not None and one.left > 0 else None
            yield Action(f"{one.name}: {word}", why(one), TECHNICIAN, line, left, "due", one.name)


def why(one: DueState) -> str:
    """ "every 5000 mi or 12 months, done 2026-03-14; about 12 June 2026"."""
    said = f"every {one.due.every}, {one.why}"
    if one.on is not None:
        about = "about " if one.estimated else ""
        by = "by distance alone " if one.missing else ""
        said += f"; {by}{about}{one.on}"
    if one.left_count is not None:
        said += f"; {max(one.left_count, 0)} left"
    return f"{said}; missing: {', '.join(one.missing)}" if one.missing else said


def rate_days(rate: Rate) -> str:
    """Between which readings a rate was taken."""
    return f"{how_many(rate.readings, 'reading')}, {rate.first} to {rate.last}"
