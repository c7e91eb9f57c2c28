"""Where the table stands in a raw file and how it is written, found from the file's first part.

The rule is plain: the dialect under which most cells of equally long lines are numbers is the one;
the first such line begins the table; the lines right above it are its header; all else is notes.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from buildlog.errors import BuildlogError, InvalidInput
from buildlog.findings import how_many
from buildlog.rawfiles.cells import EMPTY, SPACES, Dialect, ambiguous, proves_grouping
from buildlog.rawfiles.decode import (
    HEAD,
    Encoding,
    Source,
    find_encoding,
    head_of,
    line_chunks,
    text_of,
)
from buildlog.rawfiles.heads import RULE, RawColumn, columns_of, find_header
from buildlog.rawfiles.obd import looks_like_bytes

DIALECTS = (
    *(Dialect(sign, point) for sign in "\t;|" for point in ".,"),
    Dialect(",", "."),
    Dialect(SPACES, "."),
    Dialect(SPACES, ","),
)
LOOKED_AT = 2000  # lines in which the table must begin
SAMPLE = 60  # of these, lines at either end by which the dialect is chosen
CONFIRMED = 3  # lines of the table that are looked at to know it again
TABLE = 300  # lines of the table by which its columns are told apart


@dataclass(frozen=True)
class Layout:
    """A raw file's table: dialect, columns, where it begins, which lines above are notes."""

    name: str
    encoding: Encoding
    dialect: Dialect
    columns: tuple[RawColumn, ...]
    width: int  # cells of a data line, a trailing empty one included
    numeric: tuple[bool, ...]  # per cell, whether the column holds numbers
    header: tuple[tuple[str, ...], ...]  # cells of the header lines, to know them again
    first_line: int  # number of the first data line, from 1
    above: tuple[tuple[int, str], ...] = ()  # lines above the table that are no header

    @property
    def named(self) -> bool:
        """Whether the file has a header."""
        return bool(self.header)

    @property
    def number_first(self) -> int:
        """Index of the first column that holds numbers: a data line has one there."""
        return self.numeric.index(True)


@dataclass(frozen=True)
class KnownLayout:
    """What need not be found again of a file whose layout was found once.

    `width` counts the cells of a data line, `columns` those that are columns; `words` are the
    indexes of cells that hold no numbers.
    """

    dialect: Dialect
    first_line: int
    columns: int
    width: int
    words: tuple[int, ...] = ()


def known_of(layout: Layout) -> KnownLayout:
    """What is worth keeping of a layout that was found."""
    words = tuple(index for index, holds in enumerate(layout.numeric) if not holds)
    return KnownLayout(layout.dialect, layout.first_line, len(layout.columns), layout.width, words)


def confirmed(source: Source, name: str, known: KnownLayout) -> Layout | None:
    """The layout that was found before, if the file still fits it; its notes are not looked at.

    What fits: the first data line and those after it are data, the line above them is not.
    """
    return _confirmed(head_of(source), name, known)


@lru_cache(maxsize=64)
def _confirmed(head: bytes, name: str, known: KnownLayout) -> Layout | None:
    if known.columns not in (known.width, known.width - 1) or len(known.words) >= known.width:
        return None
    encoding = find_encoding(head, name)
    lines = _head_lines(head, name, encoding, known.first_line + CONFIRMED)
    numeric = tuple(index not in known.words for index in range(known.width))
    begin = known.first_line - 1
    if not _fits(lines[begin:], known, numeric):
        return None
    if begin and is_data(known.dialect.split(lines[begin - 1]), known.dialect, numeric):
        return None
    header = find_header(lines[:begin], known.dialect, known.width, known.columns < known.width)
    columns = columns_of(header, known.columns)
    return Layout(
        name, encoding, known.dialect, columns, known.width, numeric, header.cells, begin + 1
    )


def _fits(lines: Sequence[str], known: KnownLayout, numeric: tuple[bool, ...]) -> bool:
    """Whether lines are data in that dialect, in it rather than in any other, and as wide."""
    rows = [known.dialect.split(line) for line in lines]
    if not rows or not all(is_data(row, known.dialect, numeric) for row in rows):
        return False
    found, _, width = _best_dialect(lines)
    trailing = not any(row[-1] for row in rows)
    return (found.delimiter, found.decimal, width, trailing) == (
        known.dialect.delimiter, known.dialect.decimal, known.width, known.columns < known.width,
    )  # fmt: skip


def find_layout(source: Source, name: str) -> Layout:
    """The layout of a raw file; InvalidInput where there is no table of numbers."""
    try:
        head = head_of(source)
    except BuildlogError as problem:  # an MDF file is read whole, and knows no name
        problem.where = problem.where or name
        raise
    return _layout(head, name)


@lru_cache(maxsize=64)  # the pulls of one file, and the sheets of one session, ask again
def _layout(head: bytes, name: str) -> Layout:
    encoding = find_encoding(head, name)
    lines = _head_lines(head, name, encoding)
    dialect, width = _find_dialect(lines, name)
    rows = [dialect.split(line) for line in lines]
    numeric = _numeric_columns(rows, dialect, width)
    if not any(numeric):
        raise _no_table(name)
    first = _first_data_row(rows, dialect, numeric)
    if first and is_ragged(rows[first - 1], dialect):  # too long or too short: no header
        raise ragged(name, first, len(rows[first - 1]), len(rows[first]), dialect)
    dialect = replace(dialect, grouping=_grouping(rows[first:], dialect, name))
    bare = not any(len(row) == width and row[-1] for row in rows[first:])
    header = find_header(lines[:first], dialect, width, bare)
    _check_header(header.cells, rows, first, dialect, width, name)
    return Layout(
        name,
        encoding,
        dialect,
        columns_of(header, _true_width(bare, header.cells, width)),
        width,
        numeric,
        header.cells,
        first + 1,
        tuple(
            (n + 1, lines[n])
            for n in range(first)
            if n not in header.lines and not RULE.fullmatch(lines[n])
        ),
    )


def _head_lines(head: bytes, name: str, encoding: Encoding, most: int = LOOKED_AT) -> list[str]:
    """The first lines as text; a line that the head cuts off is left out."""
    lines = [
        text.rstrip("\r")
        for chunk in line_chunks(head, name, encoding)
        for text in text_of(chunk, encoding).removesuffix("\n").split("\n")
    ]
    whole = lines if len(head) < HEAD else lines[:-1]
    return whole[:most]


def _find_dialect(lines: Sequence[str], name: str) -> tuple[Dialect, int]:
    best, score, width = _best_dialect(
        [*lines[:SAMPLE], *lines[max(SAMPLE, len(lines) - SAMPLE) :]]
    )
    if not score:
        raise _no_table(name)
    return best, width


def _best_dialect(lines: Sequence[str]) -> tuple[Dialect, int, int]:
    """The first of the dialects with the highest score, the score and the width."""
    scored = ((dialect, *_score(lines, dialect)) for dialect in DIALECTS)
    return max(scored, key=lambda one: one[1])


def _no_table(name: str) -> InvalidInput:
    return InvalidInput(
        "no table of numbers was found in the file",
        where=name,
        hint="a raw file needs at least two columns of numbers with one delimiter throughout",
    )


def _score(lines: Sequence[str], dialect: Dialect) -> tuple[int, int]:
    """Numbers less words, summed over the lines of the commonest width.

    A cell of bytes is no word: beside a number it counts as one.
    """
    scores: Counter[int] = Counter()
    for line in lines:
        cells = dialect.split(line)
        if len(cells) == 1:  # as most lines are under most dialects
            continue
        filled = [cell for cell in cells if cell.casefold() not in EMPTY]
        numbers = sum(dialect.is_number(cell) for cell in filled)
        words = sum(not ambiguous(cell) for cell in filled) - numbers
        if numbers and words > 0:
            raw = sum(looks_like_bytes(cell) for cell in filled if not dialect.is_number(cell))
            numbers, words = numbers + raw, words - raw
        if numbers and numbers > words:
            scores[len(cells)] += numbers - max(words, 0)
    if not scores:
        return 0, 0
    width, score = scores.most_common(1)[0]
    return score, width


def _numeric_columns(rows: list[list[str]], dialect: Dialect, width: int) -> tuple[bool, ...]:
    """Which columns hold numbers in most of the table's lines."""
    near = [row for row in rows if len(row) == width][:TABLE]
    table = [row for row in near if _numbers(row, dialect) * 2 >= max(_full(row), 1)]
    holds = [
        [dialect.is_number(row[j]) or ambiguous(row[j]) for row in table if row[j]]
        for j in range(width)
    ]
    return tuple(bool(found) and sum(found) * 2 > len(found) for found in holds)


def _full(row: list[str]) -> int:
    return sum(cell.casefold() not in EMPTY for cell in row)


def _numbers(row: list[str], dialect: Dialect) -> int:
    return sum(dialect.is_number(cell) or looks_like_bytes(cell) for cell in row)


def _first_data_row(rows: list[list[str]], dialect: Dialect, numeric: tuple[bool, ...]) -> int:
    """The first line of data that is mostly numbers: a padded note above may begin with one."""
    return next(
        n
        for n, row in enumerate(rows)
        if is_data(row, dialect, numeric) and _numbers(row, dialect) * 2 >= _full(row)
    )


def is_data(row: Sequence[str], dialect: Dialect, numeric: Sequence[bool]) -> bool:
    """Whether cells are a line of the table: right width, a number where numbers begin.

    A word in a later column does not make it a note: it is read and refused with its line number.
    """
    if len(row) != len(numeric):
        return False
    cells = [cell for cell, holds in zip(row, numeric, strict=True) if holds]
    if cells[0].casefold() in EMPTY:
        return any(dialect.is_number(cell) for cell in cells)
    return dialect.is_number(cells[0]) or ambiguous(cells[0])


def is_ragged(row: Sequence[str], dialect: Dialect) -> bool:
    """Whether a line that does not fit the table is still a line of numbers."""
    filled = [cell for cell in row if cell.casefold() not in EMPTY]
    numbers = sum(dialect.is_number(cell) for cell in filled)
    leads = bool(filled) and (dialect.is_number(filled[0]) or ambiguous(filled[0]))
    return leads and numbers * 2 >= len(filled)


class RaggedLine(InvalidInput):
    """A line with too few or too many cells: its number, its cells, those of the table."""

    line: int
    cells: int
    width: int


def ragged(name: str, line: int, found: int, width: int, dialect: Dialect) -> RaggedLine:
    """The error for a line with too few or too many cells."""
    commas = dialect.delimiter == "," and found > width
    hint = "a decimal comma in a file set apart by commas cannot be read; export with semicolons"
    error = RaggedLine(
        f"the line has {found} cell{'s' * (found != 1)} where the table has {width}",
        where=f"{name}, line {line}",
        hint=hint if commas else "export the pull again, or leave the line out with rows",
    )
    error.line, error.cells, error.width = line, found, width
    return error


def _grouping(rows: list[list[str]], dialect: Dialect, name: str) -> str | None:
    """The grouping sign the file proves; refuses a file in which every decimal could be one."""
    other = "," if dialect.decimal == "." else "."
    cells = [cell for row in rows for cell in row if dialect.decimal in cell or other in cell]
    for cell in cells if any(other in cell for cell in cells) else ():
        if sign := proves_grouping(cell, dialect.decimal):
            return sign
    if dialect.decimal == ".":
        return None
    marked = (cell for cell in cells if "," in cell and dialect.is_number(cell))
    first = next(marked, None)
    if first and ambiguous(first) and all(ambiguous(cell) for cell in marked):
        raise InvalidInput(
            f'"{first}" could be {first.replace(",", ".")} or'
            f" {first.replace(',', '')}, and nothing in the file decides it",
            where=name,
            hint="export the pull again without thousands separators",
        )
    return None


def _true_width(bare: bool, header: tuple[tuple[str, ...], ...], width: int) -> int:
    """Columns of the table: a delimiter at the end of each line makes no column."""
    named = any(len(row) >= width and row[width - 1] for row in header)
    return width - (bare and not named)


def _check_header(
    header: tuple[tuple[str, ...], ...],
    rows: list[list[str]],
    first: int,
    dialect: Dialect,
    width: int,
    name: str,
) -> None:
    """Words above the table that do not fit its width, where there is no header that does."""
    above = next((n for n in range(first - 1, -1, -1) if any(rows[n])), None)
    if header or above is None:
        return
    cells = rows[above]
    if dialect.delimiter == "," and len(cells) > 1 and width == 2 * len(cells):
        raise ragged(name, first + 1, width, len(cells), dialect)
    if len(cells) > 1 and abs(len(cells) - width) <= 2 and not any(":" in c for c in cells):
        raise InvalidInput(
            f"the header names {how_many(len(cells), 'column')} but the lines below have "
            f"{how_many(width, 'cell')}",
            where=f"{name}, line {above + 1}",
            hint="export the pull again with a name for each column",
        )
