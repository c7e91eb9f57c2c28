"""The lines above and below a table: key and value, and the conditions of the run in them.

Conditions found here are proposed with the line they come from; nothing takes them up silently.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from buildlog import units
from buildlog.rawfiles.aliases import spelling
from buildlog.rawfiles.cells import Dialect, ambiguous
from buildlog.rawfiles.channel_words import WORDS, phrases
from buildlog.rawfiles.header import plain_words
from buildlog.rawfiles.heads import COMMENT

Note = tuple[int, str]  # line number, text


@dataclass(frozen=True)
class Condition:
    """A condition of the run as session.toml would hold it, and where it was read.

    `value` is None where the text cannot be decided; then `question` says what to ask.
    """

    field: str
    value: str | None
    text: str
    line: int
    question: str | None = None


# Fields of session.toml: their dimensions, and the words that name them.
_FIELDS: dict[str, dict[str, Any]] = WORDS["conditions"]
_BY_WORD = {word: name for name, field in _FIELDS.items() for word in phrases(field["words"])}
# Names as the trade writes them, and the standard meant (common practice, no source).
STANDARDS = {
    "SAE J1349": r"\bsae\b(?!.*j\s*607)|j\s*1349",
    "60F-29.92-dry": r"\bstd\b|j\s*607|29[.,]92",
    "DIN 70020": r"\bdin\b",
    "ISO 1585": r"\biso\b|\bece\b|\beec\b|\bewg\b|\br\s*85\b|80\s*/\s*1269",
    "none": r"\b(?:none|no|off|ohne|keine?|aucune?|sans|non|observed|brute?|raw)\b|\bun[ck]orr",
}


def pairs(notes: Iterable[Note], dialect: Dialect) -> list[tuple[int, str, str]]:
    """Line, key and value of each note that has both; a note without a key has an empty one.

    >>> pairs([(1, "Luftdruck;987,5;hPa;"), (2, "# Gear = 4")], Dialect(";", ","))
    [(1, 'Luftdruck', '987,5 hPa'), (2, 'Gear', '4')]
    """
    found = []
    for line, text in notes:
        key, value = _pair(COMMENT.sub("", text).strip(), dialect)
        if key or value:
            found.append((line, key, value))
    return found


def _pair(text: str, dialect: Dialect) -> tuple[str, str]:
    cells = [cell for cell in dialect.split(text) if cell]
    first = cells[0] if cells else ""
    if len(cells) > 1 and not re.search(r"[:=]\s*\S", first):
        return first.rstrip(" :="), " ".join(cells[1:])
    bare = text.strip().strip(dialect.delimiter + '"').strip()
    match = re.match(r"([^:=]{1,60}?)\s*[:=]\s*(.*)$", bare)
    return (match[1].strip(), match[2].strip(' ";')) if match else ("", bare)


def metadata(notes: Iterable[Note], dialect: Dialect) -> dict[str, str]:
    """The notes as text by key; a note without a key stands under its line ("line 7")."""
    found: dict[str, str] = {}
    for line, key, value in pairs(notes, dialect):
        name = key or f"line {line}"
        found[name if name not in found else f"{name} (line {line})"] = value
    return found


def conditions(notes: Iterable[Note], dialect: Dialect) -> list[Condition]:
    """The conditions of the run that the notes state, each once, the first line that says it."""
    found: dict[str, Condition] = {}
    for line, key, value in pairs(notes, dialect):
        words, unit = _key(key)
        field = _BY_WORD.get(words)
        if field and field not in found and value:
            found[field] = _condition(field, value, unit, line)
    for line, text in notes:
        if "standard_applied" not in found and (named := _named_standard(text)):
            asked = f'is {named} meant by "{text.strip()}"?'
            found["standard_applied"] = Condition(
                "standard_applied", None, text.strip(), line, asked
            )
    return list(found.values())


def _key(key: str) -> tuple[str, str]:
    """Plain words of a key, and the unit that stands in its brackets: "Baro (inHg)"."""
    match = re.search(r"[\[(]([^\])]*)[\])]\s*$", key)
    unit = match[1] if match and spelling(match[1]) else ""
    return plain_words(key[: match.start()] if match else key), unit


def _condition(field: str, value: str, unit: str, line: int) -> Condition:
    dimensions = _FIELDS[field].get("dimensions", ())
    if field == "date":
        return _date(value, line)
    if field == "standard_applied":
        return _standard(value, line)
    if field == "gear":
        match = re.search(r"\d+", value)
        asked = None if match else f'which gear is "{value}"?'
        return Condition(field, match[0] if match else None, value, line, asked)
    if dimensions:
        return _quantity(field, value, unit, dimensions, line)
    return Condition(field, value, value, line)


def _quantity(field: str, value: str, unit: str, dimensions: Sequence[str], line: int) -> Condition:
    """A number with the unit from the value or the key; without a unit it is asked for."""
    match = re.match(r"([+-]?[\d.,\s\u00a0']*\d)\s*([^\d;,]*)", value)
    number = _plain_number(match[1]) if match else None
    if match is None or number is None:
        return Condition(field, None, value, line, f'what number is "{value}" ({field})?')
    spelt = spelling(match[2]) if match[2].strip() else spelling(unit) if unit else None
    found = units.find(spelt.unit, dimensions) if spelt else None
    if found is None or found.text == "1":
        known = ", ".join(units.one_spelling(dimensions))
        return Condition(field, None, value, line, f'in which unit is {field} "{value}" ({known})?')
    return Condition(field, f"{number} {found.text}", value, line)


def _plain_number(text: str) -> str | None:
    """A number with a decimal point; None for "88.412", which may be 88.412 or 88412."""
    bare = re.sub(r"[\s\u00a0']", "", text)
    if ambiguous(bare) or not re.fullmatch(r"[+-]?\d+(?:[.,]\d+)?", bare):
        return None
    return bare.replace(",", ".")


def _date(value: str, line: int) -> Condition:
    """An ISO date; day-first and month-first are told apart only where the numbers force it."""
    text = value.strip()
    if match := re.search(r"\b(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})\b", text):
        return _checked_date(int(match[1]), int(match[2]), int(match[3]), text, line)
    match = re.search(r"\b(\d{1,2})([-/.])\s?(\d{1,2})[-/.]\s?(\d{4})\b", text)
    if match is None:
        return Condition("date", None, text, line, f'which day is "{text}"? write YYYY-MM-DD')
    one, sign, two, year = int(match[1]), match[2], int(match[3]), int(match[4])
    if sign == "." or one > 12 or one == two:
        return _checked_date(year, two, one, text, line)
    if two > 12:
        return _checked_date(year, one, two, text, line)
    asked = f'is "{text}" {year}-{two:02}-{one:02} or {year}-{one:02}-{two:02}?'
    return Condition("date", None, text, line, asked)


def _checked_date(year: int, month: int, day: int, text: str, line: int) -> Condition:
    if 1 <= month <= 12 and 1 <= day <= 31:
        return Condition("date", f"{year}-{month:02}-{day:02}", text, line)
    return Condition("date", None, text, line, f'which day is "{text}"? write YYYY-MM-DD')


def _named_standard(text: str) -> str | None:
    """The one standard that words name, where they speak of correcting."""
    if not re.search(r"corr|korr|norm", text, re.IGNORECASE):
        return None
    named = _standards_in(text)
    return named[0] if len(named) == 1 else None


def _standards_in(text: str) -> list[str]:
    return [name for name, sign in STANDARDS.items() if re.search(sign, text, re.IGNORECASE)]


def _standard(value: str, line: int) -> Condition:
    named = _standards_in(value)
    if len(named) == 1:
        return Condition("standard_applied", named[0], value, line)
    known = ", ".join([*STANDARDS, "unknown"])
    asked = f'which standard is "{value}" ({known})?'
    return Condition("standard_applied", None, value, line, asked)
