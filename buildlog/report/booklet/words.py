"""How the booklet says things: versions, distances, values, states."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence

from buildlog.analysis.car.version import Version
from buildlog.records.key_words import key_words
from buildlog.records.paths import assembly, words
from buildlog.report.booklet.document import Cell, Span, Spans
from buildlog.report.in_units import in_units
from buildlog.report.numbers import Display

NEUTRAL = "–"


def day(date: dt.date | None) -> str:
    """ "14 March 2026": a date nobody can read two ways."""
    return f"{date.day} {date:%B %Y}" if date else "date not recorded"


def brief_day(date: dt.date | None) -> str:
    """ "6 Jun": in tables of one year."""
    return f"{date.day} {date:%b}" if date else "–"


def sentence(text: str) -> str:
    """A sentence of the program, in the units of results, with its capital letter and full stop."""
    return statement(in_units(text))


def statement(text: str) -> str:
    """What somebody wrote, with its capital letter and its full stop."""
    text = text.strip()
    return f"{text[:1].upper()}{text[1:]}{'' if text.endswith(('.', '?', '!')) else '.'}"


def first_sentence(text: str) -> str:
    """What comes first of a note; the rest stays in the entry.

    >>> first_sentence("Third pull lifted early. The belt\\nwas heard.")
    'Third pull lifted early.'
    """
    return re.split(r"(?<=[.!?])\s+(?=[A-Z])", " ".join(text.split()), maxsplit=1)[0]


def one_unit(values: Sequence[str], between: str = ", ") -> str:
    """Values with their common unit said once: "172, 168, 171 psi".

    >>> one_unit(["20 N·m", "24 N·m"], " to "), one_unit(["6 percent", "7"]), one_unit(["2317"])
    ('20 to 24 N·m', '6 percent, 7', '2317')
    """
    units = {value.partition(" ")[2] for value in values}
    if len(values) < 2 or len(units) > 1 or not any(units):
        return between.join(values)
    return f"{between.join(value.partition(' ')[0] for value in values)} {units.pop()}"


def entry_name(version: Version) -> str:
    """ "entry 5 (3fa81c02)": the number for talking, the id on paper."""
    return f"entry {version.number} ({version.id[:8]})"


def label(version: Version, show: Display) -> str:
    """ "stage-1, entry 5 (3fa81c02), 14 March 2026, 88,412 mi"."""
    pieces = [version.stage] if version.stage else []
    pieces += [entry_name(version), day(version.date)]
    if version.odometer is not None:
        pieces.append(show.distance(version.odometer))
    return ", ".join(piece for piece in pieces if piece)


def short(version: Version | None) -> str:
    """A version in a table's cell: its stage, else its entry."""
    if version is None:
        return "not recorded"
    return f"{version.stage} (entry {version.number})" if version.stage else (
        f"entry {version.number}"
    )  # fmt: skip


def who(done_by: str | None, approved_by: str | None) -> str:
    """ "done by D-03, approved by K-01"."""
    said = [f"done by {done_by}"] if done_by else []
    said += [f"approved by {approved_by}"] if approved_by else []
    return ", ".join(said) or "nobody named"


def field_words(path: str) -> str:
    """A field with its assembly, in words: "fuel injectors flow"."""
    head = key_words(assembly(path))
    inner = words(path)
    if ".written_for." in path:  # the name of another field, as the calibration was given it
        inner = key_words(inner.replace(".", " "))
    return f"{head} {inner}".strip() if inner and inner != head else head


def state(word: str) -> Span:
    """A word for a state, set apart so that it is found at a glance, in grey too."""
    return Span(word, "state")


def replaced(old: str, new: str) -> Spans:
    """What was written, struck through, and what replaced it."""
    return (Span(old, "was"), Span(" corrected to ", "quiet"), Span(new, "now"))


def listed(items: list[str]) -> str:
    """ "a, b and c"."""
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} and {items[-1]}"


def either(value: str | None, otherwise: str) -> Cell:
    """A value, or a quiet word for its absence."""
    return value if value else Span(otherwise, "quiet")
