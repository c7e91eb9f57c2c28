"""One header cell: its words, and the unit that stands in it.

"Power (hp)", "Leistung [kW]", "n / min-1", "Drehmoment in Nm", "boost_psi", "RPM".
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

from buildlog.rawfiles.aliases import Spelling, spelling

LONGEST = 200  # characters of a header cell that are read: words and unit stand in fewer
_BRACKET = re.compile(r"[\[({<]([^\[\](){}<>]*)[\])}>]")
# Units of one letter, and the words after which they are meant.
_LETTER_UNITS = {
    "%": "",
    "°": "",
    "C": "temp|iat|ect|egt",
    "F": "temp|iat|ect|egt",
    "s": "time|zeit|temps",
    "V": "volt|batt|ubat|spannung|tension",
}
_LAST = re.compile(r"^(.*?\S)\s*(?:,|/|\bin\b|_|\s)\s*([^\s,_]+(?:/[a-z]+)?)$", re.IGNORECASE)


@dataclass(frozen=True)
class ColumnHeading:
    """Words of a header cell, its unit where it was understood, else the unit's raw text."""

    words: str
    unit: Spelling | None = None
    unknown_unit: str | None = None


def read_heading(cell: str, unit_cell: str = "") -> ColumnHeading:
    """Words and unit of a header cell; a cell of a units row below it wins.

    >>> read_heading("Drehmoment in Nm").words, read_heading("boost_psi").unit.unit
    ('Drehmoment', 'psi')
    >>> read_heading("Speed [x1000 rpm]").unknown_unit
    'x1000 rpm'
    """
    cell = cell[:LONGEST]
    own = _bracketed(cell) or _trailing(cell)
    if own is None:  # it may be a unit itself ("rpm"); a single letter is a symbol ("v", "t")
        own = ColumnHeading(cell, spelling(cell) if len(cell) > 1 else None)
    if not unit_cell.strip():
        return own
    found = spelling(unit_cell)
    if found is None:
        return ColumnHeading(own.words, None, unit_cell.strip())
    if found.unit == "1" and own.unit:  # a dash in the units row says nothing against the heading
        return own
    return ColumnHeading(own.words, found)


def _bracketed(cell: str) -> ColumnHeading | None:
    for match in reversed(list(_BRACKET.finditer(cell))):
        rest = f"{cell[: match.start()]} {cell[match.end() :]}".strip()
        found = spelling(match[1])
        if found:
            return ColumnHeading(rest or match[1], found)
        if match[0].startswith("[") or _holds_unit(match[1]):
            return ColumnHeading(rest, None, match[1].strip())
    return None


def _holds_unit(text: str) -> bool:
    """Whether a bracket that is no known unit looks like one: "x1000 rpm", "1000/min"."""
    parts = re.split(r"[\s*x×]+", text)
    return bool(re.search(r"\d", text)) and (
        any(len(part) > 1 and spelling(part) for part in parts) or "/" in text
    )


def _trailing(cell: str) -> ColumnHeading | None:
    """A unit as the last word: at least two letters, so that "Lambda 1" keeps its number."""
    for pattern in (r"^(.*\S)\s*/\s*(\S.*)$", r"^(.*\S)[\s_,]+(\S+\s+\S+)$", _LAST.pattern):
        match = re.match(pattern, cell, re.IGNORECASE)
        if match and _is_unit_word(match[1], match[2]):
            words = re.sub(r"\s+in$", "", match[1], flags=re.IGNORECASE)
            return ColumnHeading(words.rstrip(" ,/_"), spelling(match[2]))
    return None


def _is_unit_word(words: str, text: str) -> bool:
    if re.fullmatch(r"[\d\W_]*", text) and text not in {"%", "°"}:
        return False
    if len(text) == 1:
        named = _LETTER_UNITS.get(text)
        return named is not None and bool(re.search(named, words, re.IGNORECASE))
    return spelling(text) is not None and text.casefold() not in {"lambda", "afr", "a/f", "ratio"}


def plain_words(text: str) -> str:
    """Lower case, no accents, words apart by one blank: "Kühlmittel_Temp." -> "kuhlmittel temp".

    >>> plain_words("EngineSpeed"), plain_words("Régime_moteur")
    ('engine speed', 'regime moteur')
    """
    apart = re.sub(r"(?<=[a-z])(?=[A-Z][a-z])", " ", text)
    decomposed = unicodedata.normalize("NFKD", apart.casefold().replace("ß", "ss"))
    letters = "".join(sign for sign in decomposed if not unicodedata.combining(sign))
    return re.sub(r"[^a-z0-9λ/']+", " ", letters).strip()
