"""What a car waits for, for other programs."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from buildlog.analysis.workshop.wait_book import Wait


def waiting_list_json(found: Sequence[Wait], day: dt.date) -> dict[str, Any]:
    """The body of `waiting list --json`."""
    return {"day": day.isoformat(), "waiting": [wait_json(one) for one in found]}


def wait_json(one: Wait) -> dict[str, Any]:
    """One thing; `name` is what `waiting done` takes."""
    waiting = one.waiting
    return {
        "name": one.name,
        "what": one.what,
        "waits_for": waiting.waits_for,
        "since": one.since.isoformat(),
        "expected": waiting.expected.isoformat() if waiting.expected else None,
        "by": waiting.by,
        "note": waiting.note,
    }
