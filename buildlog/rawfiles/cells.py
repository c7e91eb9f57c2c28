"""Lines into cells and cells into numbers, for one way of writing them (a dialect).

"1.234" is 1.234 to one shop and 1234 to the next. A separator counts as grouping only where the
file itself proves it; a cell that could be either is refused, never read.
"""

from __future__ import annotations

import csv
import math
import re
from dataclasses import dataclass
from datetime import date
from functools import cache

SPACES = " "  # the delimiter "runs of spaces"
BLANK_GROUPING = " \u00a0\u202f'’"  # grouping signs that cannot be a decimal sign
EMPTY = frozenset(
    {"", "-", "--", "---", "nan", "n/a", "na", "#n/a", "n.a.", "null", "none", "k.a.", "*", "?"}
)
_SIGNS = frozenset(BLANK_GROUPING + ".,")
# What a number, a time or a date is written with: cells of words are the commonest other thing.
_NUMERIC = re.compile(rf"[0-9eETZ:.,+\-\u2212{BLANK_GROUPING}]+")
_CLOCK = re.compile(
    r"(?:([0-9]{4}-[0-9]{2}-[0-9]{2})[T ])?"
    r"(?:([0-9]{1,2}):)?([0-9]{1,2}):([0-9]{1,2}(?:\.[0-9]+)?)Z?"
)
_AMBIGUOUS = re.compile(r"[+-]?[1-9]\d{0,2}[.,]\d{3}")
_PLAIN = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")


@dataclass(frozen=True)
class Dialect:
    """How a file writes its table: delimiter, decimal sign, and a proven grouping sign if any."""

    delimiter: str
    decimal: str = "."
    grouping: str | None = None

    def split(self, line: str) -> list[str]:
        """The cells of one line, stripped, quotes taken off.

        >>> Dialect(";", ",").split('3000; "80,5" ;')
        ['3000', '80,5', '']
        """
        line = line.rstrip("\r\n")
        if self.delimiter == SPACES:
            return _split_spaces(line)
        if '"' not in line:
            return [cell.strip() for cell in line.split(self.delimiter)]
        try:
            cells = next(csv.reader([line], delimiter=self.delimiter, skipinitialspace=True), [""])
        except csv.Error:  # a quote that never ends, over more than csv's longest field
            cells = line.split(self.delimiter)
        return [cell.strip() for cell in cells]

    def number(self, cell: str) -> float | None:
        """The number in a cell, NaN for an empty one, None when it is neither.

        >>> Dialect(";", ",").number("1 234,5"), Dialect(";", ",").number("1.234")
        (1234.5, None)
        >>> Dialect(";", ",", ".").number("1.234")
        1234.0
        """
        if ready := self._ready(cell):
            return float(ready)
        if cell.casefold() in EMPTY:
            return math.nan
        if not _NUMERIC.fullmatch(cell):
            return None
        plain = self._ungrouped(cell.replace("\u2212", "-"))
        if plain is None or not _PLAIN.fullmatch(plain):
            return _clock(cell.replace(",", "."))
        return float(plain)

    def is_number(self, cell: str) -> bool:
        """Whether the cell holds a number (an empty cell does not)."""
        if self._ready(cell):
            return True
        number = self.number(cell)
        return number is not None and not math.isnan(number)

    def _ready(self, cell: str) -> str | None:
        """The cell as Python writes numbers if it is a plain one, as nearly all cells are."""
        if self.decimal == ",":
            if "." in cell:
                return None
            cell = cell.replace(",", ".")
        return cell if _PLAIN.fullmatch(cell) else None

    def _ungrouped(self, cell: str) -> str | None:
        """The cell with grouping taken out and a decimal point; None if it cannot be decided."""
        whole, decimal, fraction = cell.partition(self.decimal)
        signs = _SIGNS.intersection(whole)
        if not signs:
            return whole + "." + fraction if decimal else whole
        sign, *others = signs
        if others or not _grouped(sign).fullmatch(whole):
            return None
        proven = decimal or sign in BLANK_GROUPING or self.grouping == sign or whole.count(sign) > 1
        return whole.replace(sign, "") + "." + fraction if proven else None


@cache
def _grouped(sign: str) -> re.Pattern[str]:
    return re.compile(rf"[+-]?\d{{1,3}}(?:{re.escape(sign)}\d{{3}})+")


def _split_spaces(line: str) -> list[str]:
    """Cells set apart by two or more blanks or a tab where there are any, else by single blanks."""
    text = line.strip()
    wide = re.split(r"\s{2,}|\t", text)
    return [piece for cell in wide for piece in _single(cell)]


def _single(cell: str) -> list[str]:
    """Numbers between single blanks are cells; words are kept together."""
    pieces = cell.split(" ")
    numbers = [bool(_PLAIN.fullmatch(piece.replace(",", "."))) for piece in pieces]
    empty = [piece.casefold() in EMPTY for piece in pieces]
    fits = sum(numbers) + sum(empty) == len(pieces)
    return pieces if fits and any(numbers) else [cell]


def _clock(cell: str) -> float | None:
    """Seconds from "12:03:01.25", "3:01.2" or an ISO date and time; None for anything else."""
    match = _CLOCK.fullmatch(cell)
    if match is None:
        return None
    day, hours, minutes, seconds = match.groups()
    try:
        days = date.fromisoformat(day).toordinal() if day else 0
    except ValueError:
        return None
    return 86400.0 * days + 3600.0 * int(hours or 0) + 60.0 * int(minutes) + float(seconds)


def ambiguous(cell: str) -> bool:
    """Whether a cell alone cannot say if its one separator groups or divides ("1.234").

    >>> [ambiguous(cell) for cell in ("1.234", "0.123", "1234.5", "1,234", "12.50")]
    [True, False, False, True, False]
    """
    return bool(_AMBIGUOUS.fullmatch(cell))


def proves_grouping(cell: str, decimal: str) -> str | None:
    """The grouping sign that a cell proves beyond doubt: "1.234,5" or "1.234.567"."""
    other = "," if decimal == "." else "."
    grouped = rf"[+-]?\d{{1,3}}(?:{re.escape(other)}\d{{3}})+{re.escape(decimal)}\d+"
    twice = rf"[+-]?\d{{1,3}}(?:{re.escape(other)}\d{{3}}){{2,}}"
    return other if re.fullmatch(f"{grouped}|{twice}", cell) else None
