"""One local day for every command: a day that has not come yet is refused by all of them alike."""

from __future__ import annotations

import datetime as dt

from buildlog.errors import InvalidInput
from buildlog.findings import Finding
from buildlog.records.days_said import day_said

_HINT = "correct it, or the clock of this computer; what is recorded is never changed"


def refuse_ahead(given: dt.date | None, today: dt.date) -> None:
    """InvalidInput for a day that has not come yet."""
    if given and given > today:
        raise InvalidInput(_text(given, today), hint=_HINT)


def ahead(record: object, path: str, today: dt.date) -> list[Finding]:
    """The error of a file whose date has not come yet."""
    day = getattr(record, "date", None)
    if not isinstance(day, dt.date) or day <= today:
        return []
    return [Finding("date-ahead", "error", _text(day, today), ("date",), path, _HINT)]


def day_typed(text: str) -> dt.date | None:
    """The day that somebody types, None where it is none: "2026-06-06", "6 June 2026", "6 Jun"."""
    from buildlog.desk.snapshot import snapshot

    return day_said(text, snapshot.today())


def _text(given: dt.date, today: dt.date) -> str:
    return f"the date {given} lies ahead: today is {today}"
