"""A maker's sheet of joints as rows of texts: which column is which, and where each row stands."""

from __future__ import annotations

import csv
import difflib
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from buildlog.errors import InvalidInput, UsageError
from buildlog.findings import how_many
from buildlog.rawfiles.channel_words import phrases
from buildlog.rawfiles.decode import decode
from buildlog.rawfiles.header import plain_words, read_heading

WORDS: dict[str, frozenset[str]] = {
    field: frozenset(phrases(words))
    for field, words in tomllib.loads(
        Path(__file__).with_name("joint_words.toml").read_text("utf-8")
    ).items()
}
_DELIMITERS = "\t;,|"
_MOST_ROWS = 500
_MAP = "write FIELD=COLUMN or FIELD=COLUMN:UNIT, such as --map 'torque=Value:N*m'"


@dataclass(frozen=True)
class SheetColumn:
    """A column of the file, from 0: its heading, the field it was taken as, and its unit.

    A numbered stage has its number in `stage`.
    """

    index: int
    heading: str
    field: str | None = None
    unit: str | None = None
    stage: int = 0

    @property
    def said(self) -> str:
        """ "torque [N*m] from "Anzugsmoment [Nm]"", as the result tells it."""
        what = f"stage {self.stage}" if self.stage else (self.field or "").replace("_", " ")
        return f'{what}{f" [{self.unit}]" if self.unit else ""} from "{self.heading}"'


@dataclass(frozen=True)
class SheetRow:
    """A row with its line in the file: the text of each column that was taken as something."""

    line: int
    cells: tuple[tuple[SheetColumn, str], ...]

    def text(self, field: str) -> str:
        """The text of a field, "" where there is none."""
        return next((text for column, text in self.cells if column.field == field), "")


@dataclass(frozen=True)
class JointTable:
    """The file as it was read: `title` is what stood above the table."""

    columns: tuple[SheetColumn, ...]
    rows: tuple[SheetRow, ...]
    title: str | None = None


def read_joints(data: bytes, name: str, maps: Sequence[str] = ()) -> JointTable:
    """The rows of a sheet of joints; InvalidInput where no column holds joints or torques.

    >>> table = read_joints(b"joint;qty;torque [Nm]\\nmain caps;10;60\\n", "a.csv")
    >>> [column.said for column in table.columns][-1], table.rows[0].text("torque")
    ('torque [Nm] from "torque [Nm]"', '60')
    """
    text = decode(data, name)
    table = max((_rows(text, one) for one in _DELIMITERS), key=lambda rows: _score(rows, maps)[0])
    head = _score(table, maps)[1]
    if head is None:
        raise InvalidInput(
            "no line heads columns of joints and torques",
            where=name,
            hint="head them with joint, count, thread, grade, torque (with its unit), angle",
        )
    line, cells = table[head]
    columns = _mapped(_columns(cells), maps, name)
    _refuse_without(columns, name, line)
    above = next((" ".join(filter(None, row)) for _, row in table[:head] if any(row)), None)
    rows = [_row(columns, *one, name) for one in table[head + 1 :] if _is_row(one[1], cells)]
    if len(rows) > _MOST_ROWS:
        raise InvalidInput(f"{len(rows)} joints are too many for one sheet", where=name,
                           hint=f"split it: up to {_MOST_ROWS} each")  # fmt: skip
    return JointTable(tuple(columns), tuple(rows), above)


def _rows(text: str, delimiter: str) -> list[tuple[int, list[str]]]:
    """Lines with their numbers, taken apart; comments and empty lines are left out."""
    reader = csv.reader(text.splitlines(keepends=True), delimiter=delimiter, skipinitialspace=True)
    found = []
    try:
        for row in reader:
            cells = [cell.strip() for cell in row]
            if any(cells) and not cells[0].startswith("#"):
                found.append((reader.line_num, cells))
    except csv.Error:  # a quote that never ends, taken apart by the wrong sign
        return []
    return found


def _score(rows: Sequence[tuple[int, list[str]]], maps: Sequence[str]) -> tuple[int, int | None]:
    """How many columns the best heading line names, and its index; 0 where none names joints."""
    said = [text.partition("=")[2].strip() for text in maps]
    best: tuple[int, int | None] = (0, 0 if maps and rows else None)
    for index, (_, cells) in enumerate(rows[:20]):
        named = [
            one for one in _columns(cells)
            if one.field or any(one.heading and text.startswith(one.heading) for text in said)
        ]  # fmt: skip
        if len(named) > max(best[0], 0 if maps else 1):
            best = (len(named), index)
    return best


def _columns(cells: Sequence[str]) -> list[SheetColumn]:
    """Each cell of a heading line with the field that it names; the first of two counts."""
    taken: set[tuple[str, int]] = set()
    found = []
    for index, cell in enumerate(cells):
        column = _column(index, cell)
        key = (column.field or "", column.stage)
        if column.field and key in taken:
            column = SheetColumn(index, cell)
        taken.add(key)
        found.append(column)
    return found


def _column(index: int, cell: str) -> SheetColumn:
    heading = read_heading(cell)
    words = plain_words(heading.words)
    unit = heading.unit.unit if heading.unit else None
    if not unit and heading.unknown_unit == "°":
        unit = "deg"
    stem, _, last = words.rpartition(" ")
    if last.isdecimal() and stem in WORDS["stage"]:
        return SheetColumn(index, cell, "stage", unit, int(last))
    field = next(
        (name for name, known in WORDS.items() if name != "stage" and words in known), None
    )
    if field is None and plain_words(cell) in WORDS["torque"]:
        field = "torque"
    return SheetColumn(index, cell, field, unit)


def _mapped(columns: list[SheetColumn], maps: Sequence[str], name: str) -> list[SheetColumn]:
    """The columns with what the user says of them."""
    for text in maps:
        field, equals, rest = (part.strip() for part in text.partition("="))
        stem, _, last = field.rpartition(" ")
        stage = int(last) if stem == "stage" and last.isdecimal() else 0
        field = "stage" if stage else field.replace(" ", "_")
        if not equals or field not in WORDS:
            hint = f"{_MAP}; fields: {', '.join(one for one in WORDS if one != 'stage')}, stage 1"
            raise UsageError(f'"{text}" does not say which column is which field', hint=hint)
        index, unit = _named(columns, rest, text, name)
        columns = [
            replace(one, field=None) if (one.field, one.stage) == (field, stage) else one
            for one in columns
        ]
        unit = unit or columns[index].unit
        columns[index] = replace(columns[index], field=field, unit=unit, stage=stage)
    return columns


def _named(
    columns: Sequence[SheetColumn], rest: str, text: str, name: str
) -> tuple[int, str | None]:
    """The column that a map names, and its unit; a heading may hold a colon of its own."""
    headings = [one.heading for one in columns]
    if rest in headings:
        return headings.index(rest), None
    heading, _, unit = (part.strip() for part in rest.rpartition(":"))
    if heading in headings:
        return headings.index(heading), unit
    near = difflib.get_close_matches(heading or rest, headings, n=1, cutoff=0.3) or headings[:3]
    raise UsageError(
        f'there is no column "{heading or rest}" in {name}', where=f"--map {text}",
        hint=f"did you mean {' or '.join(near)}?",
    )  # fmt: skip


def _refuse_without(columns: Sequence[SheetColumn], name: str, line: int) -> None:
    fields = {one.field for one in columns}
    asked = fields & {"torque", "low", "high", "stages", "stage", "angle"}
    missing = "the joints" if "name" not in fields else "" if asked else "a torque"
    if missing:
        headings = ", ".join(f'"{one.heading}"' for one in columns if one.heading)
        raise InvalidInput(
            f"no column was taken as {missing}; there are {headings}",
            where=f"{name}, line {line}",
            hint=f"--map {'name' if 'name' not in fields else 'torque'}=COLUMN",
        )


def _is_row(cells: Sequence[str], head: Sequence[str]) -> bool:
    """Whether a line is one of the table, and not its heading again on the next page."""
    return list(cells) != list(head)


def _row(columns: Sequence[SheetColumn], line: int, cells: list[str], name: str) -> SheetRow:
    if any(cells[len(columns) :]):
        raise InvalidInput(
            f"{len(cells)} cells stand under {how_many(len(columns), 'heading')}",
            where=f"{name}, line {line}",
            hint="put a text that holds the dividing sign in quotes",
        )
    return SheetRow(line, tuple(_cells(columns, cells)))


def _cells(
    columns: Sequence[SheetColumn], cells: Sequence[str]
) -> Iterator[tuple[SheetColumn, str]]:
    for column, text in zip(columns, cells, strict=False):
        if column.field and text:
            yield column, text
