"""A day as somebody types it: as files have it, and as documents print it."""

from __future__ import annotations

import contextlib
import datetime as dt

_FORMS = ("%Y-%m-%d", "%d %B %Y", "%d %b %Y", "%B %d, %Y", "%b %d, %Y")
_BRIEF = ("%d %B %Y", "%d %b %Y")
HINT = "write it as 2026-03-14"


def day_said(text: str, today: dt.date | None = None) -> dt.date | None:
    """The day that is meant, None where it is none. "6 Jun", as tables of one year print it, is the
    newest that is not after `today`; 6/6/2026 may mean two days and is none.

    >>> day_said("6 June 2026"), day_said("6 Jun", dt.date(2026, 3, 1))
    (datetime.date(2026, 6, 6), datetime.date(2025, 6, 6))
    """
    plain = " ".join(text.split())
    for form in _FORMS:
        with contextlib.suppress(ValueError):
            return dt.datetime.strptime(plain, form).date()
    if today is None:
        return None
    if plain.casefold() in ("today", "yesterday"):
        return today - dt.timedelta(days=plain.casefold() == "yesterday")
    for year in (today.year, today.year - 1):
        for form in _BRIEF:
            with contextlib.suppress(ValueError):
                found = dt.datetime.strptime(f"{plain} {year}", form).date()
                if found <= today:
                    return found
    return None
