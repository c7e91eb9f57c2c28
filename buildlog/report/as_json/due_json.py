"""What comes due, for other programs; distances in km."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from buildlog.analysis.workshop.due_book import DueState
from buildlog.report.numbers import kilometres


def due_list_json(states: Sequence[DueState], day: dt.date) -> dict[str, Any]:
    """The body of `due list --json`."""
    return {"day": day.isoformat(), "due": [_state(one, day) for one in states]}


def _state(one: DueState, day: dt.date) -> dict[str, Any]:
    rate = one.rate
    return {
        "what": one.name,
        "every": one.due.every,
        "part": one.due.part,
        "state": "due"
        if one.is_due(day)
        else "soon"
        if one.is_soon(day)
        else "later"
        if one.on or one.left is not None or one.left_count is not None
        else "unknown",
        "on": one.on.isoformat() if one.on else None,
        "estimated": one.estimated,
        "since": one.since.isoformat() if one.since else None,
        "left_km": kilometres(one.left),
        "left_count": one.left_count,
        "rate_km_per_day": kilometres(rate.per_day) if rate else None,
        "rate_readings": rate.readings if rate else None,
        "counts_from": one.why,
        "missing": list(one.missing),
    }
