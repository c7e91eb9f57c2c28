"""The wanted columns of a raw file as SI arrays: fast where the file is regular, exact where not.

A chunk of about a megabyte is checked, in one pass over its bytes, to have as many cells in each
line as the table, and read column by column where all numbers have fixed decimals, else through
`numpy.loadtxt`. A chunk that fails is read line by line, and that
reading decides: it skips headers that come again and notes, and refuses with the line's number.
Memory is that of the wanted columns and one chunk.
"""

from __future__ import annotations

import io
import math
import re
import sys
from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from buildlog.errors import InvalidInput
from buildlog.rawfiles.cells import EMPTY, SPACES, ambiguous
from buildlog.rawfiles.decode import Source, line_chunks, text_of
from buildlog.rawfiles.fixed import cell_ends, read_columns
from buildlog.rawfiles.heads import COMMENT
from buildlog.rawfiles.layout import Layout, find_layout, is_data, is_ragged, ragged
from buildlog.rawfiles.obd import cell_reader, looks_like_bytes
from buildlog.rawfiles.spec import ColumnSpec, find_column

Floats = NDArray[np.float64]
Readers = Sequence[Callable[[str], float] | None]
MOST_NOTES = 1000  # more lines between and below the numbers than this are counted, not kept


@dataclass(frozen=True)
class RawTable:
    """Wanted columns of a raw file in SI, one array per channel, all of one length.

    `empty` counts cells without a number per channel; `spans` are the rows (from 0) at which an
    unbroken stretch of lines begins, each with its line number. `skipped`: the data rows of the
    file before the first of these.
    """

    channels: dict[str, Floats]
    empty: dict[str, int]
    spans: tuple[tuple[int, int], ...] = ((0, 1),)
    skipped: int = 0

    @property
    def rows(self) -> int:
        return len(next(iter(self.channels.values())))

    @property
    def first_line(self) -> int:
        return self.line(0)

    def line(self, row: int) -> int:
        """Number of the line in the file that holds a row (from 0)."""
        start, line = self.spans[bisect_right(self.spans, (row, sys.maxsize)) - 1]
        return line + row - start


@dataclass
class Piece:
    """A chunk's rows, where a new block begins among them (row offsets), and its notes."""

    values: Floats
    spans: list[tuple[int, int]]  # row offset and line at which a stretch of lines begins
    breaks: list[int] = field(default_factory=list)
    notes: list[tuple[int, int, str]] = field(default_factory=list)  # row offset, line, text


def read_table(
    source: Source,
    name: str,
    columns: Sequence[ColumnSpec],
    rows: tuple[int, int] | None = None,
    layout: Layout | None = None,
    every: int = 1,
) -> RawTable:
    """Read the wanted columns; `rows` are the first and last data row, from 1, both included.
    Of a file too large to be held, one row in `every` is kept.

    `source` is the file's bytes or its path (then it is never held whole). Rows at either end in
    which all wanted cells are empty are left out. InvalidInput names the line of what is wrong.

    >>> table = read_table(b"n;P\\n1/min;kW\\n3000;80,5\\n3100;84,0\\n", "a.csv",
    ...                    [ColumnSpec("power", "P", "kW")])
    >>> table.channels["power"].tolist(), table.first_line
    ([80500.0, 84000.0], 3)
    """
    layout = layout or find_layout(source, name)
    _refuse_twice(columns, name)
    found = [find_column(layout.columns, spec, name) for spec in columns]
    units = [spec.unit_row() for spec in columns]
    wanted = [column.index for column in found]
    readers = [cell_reader(column.unit) for column in columns]
    values, spans = _collect(source, layout, wanted, rows, readers, every)
    first, last = _filled(values)
    if first == last:
        raise InvalidInput("the wanted columns hold no numbers", where=name)
    kept = [data[first:last] for data in values]
    empty = {
        spec.channel: int(np.isnan(data).sum()) for spec, data in zip(columns, kept, strict=True)
    }
    for data, unit in zip(kept, units, strict=True):
        data *= unit.factor
        data += unit.offset
    channels = {spec.channel: data for spec, data in zip(columns, kept, strict=True)}
    skipped = first * every
    kept_spans = tuple((row - skipped, line) for row, line in _from_row(spans, skipped))
    return RawTable(channels, empty, kept_spans, skipped + (rows[0] - 1 if rows else 0))


def _refuse_twice(columns: Sequence[ColumnSpec], name: str) -> None:
    channels = [spec.channel for spec in columns]
    twice = next((channel for channel in channels if channels.count(channel) > 1), None)
    if twice:
        raise InvalidInput(f"two columns are given for {twice}", where=name, hint="keep one")
    if not columns:
        raise InvalidInput("no column is wanted", where=name, hint="map at least one channel")


def _filled(values: list[Floats]) -> tuple[int, int]:
    """First and one past the last row in which any wanted cell holds a number."""
    some = np.zeros(len(values[0]), bool)
    for column in values:
        some |= ~np.isnan(column)
    return (int(some.argmax()), len(some) - int(some[::-1].argmax())) if some.any() else (0, 0)


def _collect(
    source: Source,
    layout: Layout,
    wanted: list[int],
    rows: tuple[int, int] | None,
    readers: Readers,
    every: int,
) -> tuple[list[Floats], list[tuple[int, int]]]:
    """The values of each wanted column, and the lines at which they stand."""
    first, last = _checked_rows(rows, layout.name)
    stores = [_Store() for _ in wanted]
    spans: list[tuple[int, int]] = []
    row = held = 0
    for piece in pieces(source, layout, wanted, last, readers=readers):
        size = len(piece.values)
        begin, end = max(first - 1 - row, 0), min(last - row, size)
        if begin < end:
            spans += [
                (at - begin + held, line) for at, line in _from_row(piece.spans, begin) if at < end
            ]
            kept = piece.values[begin:end][-held % every :: every]
            held += end - begin
            for column, store in enumerate(stores):
                store.add(kept[:, column])
        row += size
        if row >= last:
            break
    if rows and row < last:
        raise InvalidInput(
            f"rows {first} to {last} are wanted but the file has {row}", where=layout.name
        )
    return [store.whole() for store in stores], spans


def _from_row(spans: list[tuple[int, int]], begin: int) -> list[tuple[int, int]]:
    """Spans from a row on; the one that holds the row begins there."""
    rows = [row for row, _ in spans]
    first = bisect_right(rows, begin) - 1
    return [(begin, spans[first][1] + begin - spans[first][0]), *spans[first + 1 :]]


class _Store:
    """One column as it grows, in place: memory never holds it twice."""

    def __init__(self) -> None:
        self.data, self.size = np.empty(0), 0

    def add(self, values: Floats) -> None:
        end = self.size + len(values)
        if end > len(self.data):
            self.data.resize(max(end, len(self.data) * 5 // 4), refcheck=False)
        self.data[self.size : end] = values
        self.size = end

    def whole(self) -> Floats:
        self.data.resize(self.size, refcheck=False)
        return self.data


def _checked_rows(rows: tuple[int, int] | None, name: str) -> tuple[int, int]:
    if rows is None:
        return 1, 1 << 62
    if rows[0] < 1 or rows[1] < rows[0]:
        raise InvalidInput(
            f"rows [{rows[0]}, {rows[1]}] is no range",
            where=name,
            hint="write the first and the last data row, counted from 1",
        )
    return rows


def pieces(
    source: Source,
    layout: Layout,
    wanted: Sequence[int],
    last: int = 1 << 62,
    lenient: bool = False,
    readers: Readers = (),
) -> Iterator[Piece]:
    """The table's rows chunk by chunk, beginning at its first line; stops after row `last`.

    `lenient` reads a cell that is no number as empty, to look at columns nobody has asked for.
    `readers` are what reads the cells of wanted columns that hold no plain numbers.
    """
    reader = _Reader(layout, list(wanted), last, lenient, readers)
    skip = layout.first_line - 1
    for chunk in line_chunks(source, layout.name, layout.encoding):
        if skip:
            parts = chunk.split(b"\n", skip)
            skip -= len(parts) - 1
            chunk = b"" if skip else parts[-1]
        if chunk and not reader.done:
            yield reader.read(chunk)


class _Reader:
    """Reads chunk after chunk; remembers what the file has shown so far."""

    def __init__(
        self, layout: Layout, wanted: list[int], last: int, lenient: bool, readers: Readers
    ) -> None:
        self.layout, self.wanted, self.last, self.lenient = layout, wanted, last, lenient
        self.readers = readers if any(readers) else (None,) * len(wanted)
        self.read_too = sorted({*wanted, layout.number_first})  # tells data lines from others
        self.row = 0  # data rows read so far
        self.line = layout.first_line  # number of the next line
        self.is_fixed = True  # so far all wanted cells were printed with fixed decimals
        self.has_empty = False  # so far no wanted cell was empty
        self.pending: tuple[int, str] | None = None  # a line of words that may head a new table

    @property
    def done(self) -> bool:
        return self.row >= self.last

    def read(self, chunk: bytes) -> Piece:
        """The chunk's rows; the fast way where it can be sure of them."""
        values = None if self.pending else self._fast(chunk)
        if values is None:
            piece = self._slow(chunk)
            self.line += chunk.count(b"\n")
        else:
            self._refuse_infinite(values)
            piece = Piece(values, [(0, self.line)])
            self.line += len(values)
        self.row += len(piece.values)
        return piece

    def _fast(self, chunk: bytes) -> Floats | None:
        """The wanted values without a look at each line; None where only the slow way can tell."""
        dialect = self.layout.dialect
        if (
            any(self.readers)
            or dialect.grouping
            or b'"' in chunk
            or (dialect.decimal == "," and b"." in chunk)
        ):
            return None
        if dialect.delimiter == SPACES:
            return self._load(chunk)
        signs = np.frombuffer(chunk, np.uint8)
        ends = cell_ends(signs, dialect.delimiter, self.layout.width)
        if ends is None:
            return None
        if self.is_fixed:
            values = read_columns(signs, ends, self.read_too, dialect.decimal)
            if values is not None:
                return self._only_wanted(values, self.read_too)
            self.is_fixed = False
        values = None if self.has_empty else self._load(chunk)
        if values is None:
            values = self._load(_fill_empty(chunk, dialect.delimiter))
            self.has_empty = values is not None
        return values

    def _only_wanted(self, values: Floats, columns: list[int]) -> Floats:
        if columns == self.wanted:
            return values
        return values[:, [columns.index(index) for index in self.wanted]]

    def _load(self, chunk: bytes) -> Floats | None:
        """Wanted values of a chunk of data lines only; None if there is any other line in it."""
        dialect = self.layout.dialect
        spaces = dialect.delimiter == SPACES
        if dialect.decimal == ",":
            chunk = chunk.replace(b",", b".")
        try:
            values = np.loadtxt(
                io.TextIOWrapper(io.BytesIO(chunk), "latin-1"),
                delimiter=None if spaces else dialect.delimiter,
                comments=None,
                usecols=None if spaces else self.read_too,  # without, numpy checks the width
                ndmin=2,
            )
        except ValueError:
            return None
        columns = list(range(self.layout.width)) if spaces else self.read_too
        lines = chunk.count(b"\n") if spaces else len(values)
        if values.shape != (lines, len(columns)):
            return None
        if np.isnan(values[:, columns.index(self.layout.number_first)]).any():
            return None
        return self._only_wanted(values, columns)

    def _refuse_infinite(self, values: Floats) -> None:
        infinite = np.isinf(values)
        if infinite.any() and not self.lenient:
            row, column = (int(place[0]) for place in np.nonzero(infinite))
            if self.row + row < self.last:
                raise self._no_number(self.line + row, self.wanted[column], "inf")

    def _slow(self, chunk: bytes) -> Piece:
        """Line by line, until the last wanted row."""
        kept: list[list[float]] = []
        piece = Piece(np.empty((0, len(self.wanted))), [])
        before = -1  # line of the last row
        text = text_of(chunk, self.layout.encoding).removesuffix("\n")
        for line, one in enumerate(text.split("\n"), self.line):
            if self.row + len(kept) >= self.last:
                break
            cells = self.layout.dialect.split(one)
            if is_data(cells, self.layout.dialect, self.layout.numeric):
                self._refuse_second_table()
                if line != before + 1 or not kept:
                    piece.spans.append((len(kept), line))
                before = line
                kept.append(self._numbers(cells, line))
            else:
                self._other_line(one, cells, line, len(kept), piece)
        if kept:
            piece.values = np.array(kept)
        return piece

    def _numbers(self, cells: list[str], line: int) -> list[float]:
        numbers = []
        for index, reader in zip(self.wanted, self.readers, strict=True):
            if reader is not None:
                numbers.append(self._by(reader, cells[index], line, index))
                continue
            number = self.layout.dialect.number(cells[index])
            if number is None or math.isinf(number):
                if not self.lenient:
                    raise self._no_number(line, index, cells[index])
                number = math.nan
            numbers.append(number)
        return numbers

    def _by(self, reader: Callable[[str], float], cell: str, line: int, index: int) -> float:
        if cell.casefold() in EMPTY:
            return math.nan
        try:
            return reader(cell)
        except InvalidInput as problem:
            named = f'{self.layout.name}, line {line}, column "{self.layout.columns[index].name}"'
            raise InvalidInput(problem.what, where=named, hint=problem.hint) from None

    def _no_number(self, line: int, index: int, cell: str) -> InvalidInput:
        where = f"{self.layout.name}, line {line}"
        named = f'in column "{self.layout.columns[index].name}"'
        if ambiguous(cell):
            plain = re.sub(r"[.,]", "", cell)
            return InvalidInput(
                f'"{cell}" {named} could be {cell.replace(",", ".")} or {plain}',
                where=where,
                hint="export the pull again without thousands separators",
            )
        hint = "an empty cell would be accepted"
        if looks_like_bytes(cell):
            hint = 'bytes of on-board diagnostics have the unit "J1979 0C bytes"'
        return InvalidInput(f'"{cell}" {named} is no number', where=where, hint=hint)

    def _other_line(self, text: str, cells: list[str], line: int, row: int, piece: Piece) -> None:
        """A line that is no data: a break between runs, a header again, a note, or an error."""
        layout = self.layout
        if not any(cell.casefold() not in EMPTY for cell in cells):
            piece.breaks.append(row)
        elif self._is_header(cells):
            piece.breaks.append(row)
            self.pending = None
        elif is_ragged(cells, layout.dialect):
            raise ragged(layout.name, line, len(cells), layout.width, layout.dialect)
        else:
            self._note(text, cells, line, row, piece)

    def _is_header(self, cells: list[str]) -> bool:
        bare = [COMMENT.sub("", cells[0]), *cells[1:]]
        padded = tuple(bare + [""] * (self.layout.width - len(bare)))
        return padded in self.layout.header

    def _note(self, text: str, cells: list[str], line: int, row: int, piece: Piece) -> None:
        piece.breaks.append(row)
        if len(piece.notes) < MOST_NOTES:
            piece.notes.append((row, line, text.rstrip("\r")))
        words = sum(bool(re.search(r"[^\W\d]", cell)) for cell in cells)
        heads = self.layout.named and words == len(cells) == self.layout.width > 2
        self.pending = (line, text.strip()) if heads else self.pending

    def _refuse_second_table(self) -> None:
        if self.pending:
            raise InvalidInput(
                "a second table with other columns begins here",
                where=f"{self.layout.name}, line {self.pending[0]}",
                hint="put each table into a file of its own",
            )


def _fill_empty(chunk: bytes, delimiter: str) -> bytes:
    """The chunk with "nan" in its empty cells."""
    sign = re.escape(delimiter).encode()
    blank = rb"[ \t]*" if delimiter != "\t" else rb"[ ]*"
    inner = rb"(?<=" + sign + rb")" + blank + rb"(?=" + sign + rb"|\r?\n)"
    first = rb"(?m)^" + blank + rb"(?=" + sign + rb")"
    return re.sub(first, b"nan", re.sub(inner, b"nan", chunk))
