"""How the sheets say things: days, numbers in words, rows, and the units that a car is shown in."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import NamedTuple

from buildlog.desk.snapshot.opening import units_of
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.report.numbers import Display, speaking

_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
            "eleven", "twelve")  # fmt: skip


class Ruled(NamedTuple):
    """One ruled row: its name, where it leads, its state in a word or two, and below it why."""

    name: str
    href: str = ""
    state: str = ""
    why: str = ""
    look: bool = False


def display(book: Snapshot) -> Display:
    """The units that a car is shown in."""
    return speaking(units_of(book.ledger))


def day(date: dt.date | None) -> str:
    """ "6 June 2026"."""
    return f"{date.day} {date:%B %Y}" if date else "no date"


def brief_day(date: dt.date | None) -> str:
    """ "6 June" of this year, with its year of another."""
    if date is None:
        return "no date"
    return f"{date.day} {date:%B}" if date.year == dt.date.today().year else day(date)


def number(count: int) -> str:
    """ "three", "14".

    >>> number(3), number(14)
    ('three', '14')
    """
    return _NUMBERS[count] if count < len(_NUMBERS) else f"{count:,}"


def counted(count: int, one: str, many: str) -> str:
    """ "one thing holds", "three things hold".

    >>> counted(1, "car waits", "cars wait"), counted(0, "car", "cars")
    ('one car waits', 'no cars')
    """
    return f"{number(count)} {one if count == 1 else many}"


def duration(seconds: float) -> str:
    """How long something takes, as roughly as it is known.

    >>> duration(3), duration(38), duration(130)
    ('some seconds', 'some 40 seconds', 'some two minutes')
    """
    if seconds < 8:
        return "some seconds"
    if seconds < 90:
        return f"some {round(seconds / 10) * 10} seconds"
    return f"some {counted(round(seconds / 60), 'minute', 'minutes')}"


def sentence(text: str) -> str:
    """A statement with its capital letter and its full stop."""
    text = text.strip()
    end = "" if text.endswith((".", "?", "!", ":")) else "."
    return f"{text[:1].upper()}{text[1:]}{end}"


def capital(text: str) -> str:
    """With a capital letter at its beginning."""
    return f"{text[:1].upper()}{text[1:]}"


def listed(names: Sequence[str], most: int = 4) -> str:
    """ "a, b and c"; of many the first ones.

    >>> listed(["a", "b", "c"]), listed(["a", "b", "c"], 2)
    ('a, b and c', 'a, b and one more')
    """
    shown = list(names[:most])
    if len(names) > most:
        shown.append(f"{number(len(names) - most)} more")
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} and {shown[-1]}"
