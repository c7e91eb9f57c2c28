"""How raw files spell units, and the one text each spelling stands for in the unit table.

Spellings only: what a unit is worth is said by `buildlog.units` alone. A spelling may say more than
a unit: "psig" says gauge, "whp" at the wheels, "%RH" humidity; that is kept as a remark.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

from buildlog import units
from buildlog.rawfiles.channel_words import WORDS

# Canonical text: spellings after `_squeeze` (case folded, no blanks, no brackets).
SPELLINGS: dict[str, str] = WORDS["units"]
# Spelled the same whatever the case; the table's own texts stay exact.
_LOOKUP = {word: text for text, words in SPELLINGS.items() for word in words.split()}
_FOLDED = {
    row.casefold(): row for row in units.texts(units.DIMENSIONS) if len(row) > 1 or row in "shVA"
}
# One spelling, two meanings by case only: never folded.
_CASE_MATTERS = {"mw", "mpa"}

_GAUGE = re.compile(r"^(psi|bar|kpa|mbar|hpa)[ .]*(g|\(g\)|gauge|rel|\(rel\))$")
_ABSOLUTE = re.compile(r"^(psi|bar|kpa|mbar|hpa)[ .]*(a|\(a\)|abs|\(abs\))$")
_WHEEL = {"whp", "rwhp", "wheelhp"}
_CRANK = {"bhp"}


@dataclass(frozen=True)
class Spelling:
    """A unit of the table as a raw file wrote it, with what the spelling says beside the unit."""

    unit: str
    reference: str | None = None  # "gauge" | "absolute"
    place: str | None = None  # "wheel" | "crank"


def _squeeze(raw: str) -> str:
    kept = raw.replace("⁻¹", "-1").replace("º", "°").replace("⋅", "·")
    folded = re.sub(r"\s+", "", unicodedata.normalize("NFKC", kept)).casefold()
    return unwrap(folded)


def unwrap(text: str) -> str:
    """The text without the brackets that enclose all of it."""
    match = re.fullmatch(r"\s*[\[({<](.*)[\])}>]\s*", text)
    return match[1].strip() if match else text.strip()


def spelling(raw: str) -> Spelling | None:
    """The unit that a raw spelling stands for, or None.

    >>> spelling("[1/min]").unit, spelling("PS").unit, spelling("ft.lbs").unit
    ('rpm', 'PS', 'lb-ft')
    >>> spelling("psig")
    Spelling(unit='psi', reference='gauge', place=None)
    """
    plain = unwrap(raw)
    word = _squeeze(raw)
    unit = plain if units.find(plain) and plain not in {"g", "t"} else _by_word(word)
    if unit is None:
        return None
    reference = "gauge" if _GAUGE.match(word) else "absolute" if _ABSOLUTE.match(word) else None
    place = "wheel" if word in _WHEEL else "crank" if word in _CRANK else None
    return Spelling(unit, reference, place)


def _by_word(word: str) -> str | None:
    if word in _CASE_MATTERS:
        return None
    return _LOOKUP.get(word) or _FOLDED.get(word)
