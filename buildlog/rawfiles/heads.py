"""The header lines above a table: names, units, and the runs that stand side by side."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from buildlog.rawfiles.aliases import spelling, unwrap
from buildlog.rawfiles.cells import SPACES, Dialect
from buildlog.rawfiles.header import LONGEST, ColumnHeading, plain_words, read_heading

COMMENT = re.compile(r"^\s*(?:#|//|%|!|;;|\*)+\s*")
RULE = re.compile(r"[\s\-=_+|*;,#]*")
_RUN_WORD = re.compile(
    r"[(\[]?\b(?:run|pull|lauf|messung|essai|passage|mesure|test|sweep)[ _#.]*(\d+)\b"
    r"[)\]]?[ :._-]*",
    re.IGNORECASE,
)
_NUMBER_AT_END = re.compile(r"^(.*?[^\d\s_.#-])[\s_.#-]*\(?(\d{1,2})\)?$")
# What a table must hold to be a run of its own, and not the second of two like sensors.
_RUN_HOLDS = {"power", "torque", "leistung", "puissance", "drehmoment", "couple", "hp", "ps", "kw"}


@dataclass(frozen=True)
class Header:
    """The header lines (indexes from 0) and their cells: names, units row, group row."""

    lines: tuple[int, ...] = ()
    cells: tuple[tuple[str, ...], ...] = ()
    names: tuple[str, ...] = ()
    units: tuple[str, ...] = ()
    groups: tuple[str, ...] = ()


@dataclass(frozen=True)
class RawColumn:
    """A column of a raw file: `name` is unique in the file, `base` is the name within its run."""

    index: int
    name: str
    base: str
    heading: ColumnHeading
    run: str | None = None


def find_header(lines: Sequence[str], dialect: Dialect, width: int, bare: bool) -> Header:
    """Names, units and group row in the lines above the first data line.

    `bare`: the data lines end in a delimiter, so that the header may be one cell shorter.
    """
    near = _fitting_rows(lines, dialect, width, bare)
    if not near:
        return Header()
    units: tuple[str, ...] = ()
    if _has_units_row(near):
        units = near.pop(0)[1]
    at, names = near[0]
    above = near[1:2] if len(near) > 1 and near[1][0] == at - 1 else []
    groups = next((cells for _, cells in above if _is_group_row(cells, names)), ())
    used = [(at, names)] + ([(at + 1, units)] if units else []) + (above if groups else [])
    return Header(
        tuple(n for n, _ in used), tuple(cells for _, cells in used), names, units, groups
    )


def _has_units_row(near: Sequence[tuple[int, tuple[str, ...]]]) -> bool:
    """Whether the nearest line holds the units of the names right above it."""
    if len(near) < 2 or near[1][0] != near[0][0] - 1 or not is_units_row(near[0][1]):
        return False
    return _are_names(near[1][1]) and not _is_group_row(near[1][1], near[0][1])


def _fitting_rows(
    lines: Sequence[str], dialect: Dialect, width: int, bare: bool
) -> list[tuple[int, tuple[str, ...]]]:
    """Up to three lines of words as wide as the table, the nearest first."""
    rows: list[tuple[int, tuple[str, ...]]] = []
    for n in range(len(lines) - 1, -1, -1):
        if not rows and RULE.fullmatch(lines[n]):
            continue
        cells = _as_wide(lines[n], dialect, width, bare)
        if cells is None or len(rows) == 3:
            break
        rows.append((n, cells))
    return rows


def _as_wide(line: str, dialect: Dialect, width: int, bare: bool) -> tuple[str, ...] | None:
    """The cells of a line if there are as many as the table has columns, else None."""
    text = COMMENT.sub("", line)
    splits = [dialect.split(text)]
    if dialect.delimiter == SPACES:
        splits.append(text.split())
    for cells in splits:
        words = any(cells) and not any(map(dialect.is_number, cells))
        if words and len(cells) in (width, width - bare):
            return tuple(cells + [""] * (width - len(cells)))
    return None


def is_units_row(cells: Sequence[str]) -> bool:
    """Whether a line holds units only: "[1/min];[kW];-"."""
    filled = [cell for cell in cells if cell]
    known = sum(spelling(cell) is not None for cell in filled)
    bracketed = sum(unwrap(cell) != cell for cell in filled)
    return bool(filled) and (known * 2 > len(filled) or bracketed == len(filled))


def _are_names(cells: Sequence[str]) -> bool:
    from buildlog.rawfiles.guess import is_known_word

    return any(is_known_word(read_heading(cell).words) for cell in cells if cell)


def _is_group_row(cells: Sequence[str], names: Sequence[str]) -> bool:
    """Labels at the starts of equal groups of columns whose names repeat."""
    starts = [j for j, cell in enumerate(cells) if cell]
    if len(starts) < 2:
        return False
    step = starts[1] - starts[0]
    blocks = [tuple(name for name in names[j : j + step] if name) for j in starts]
    even = all(b - a == step for a, b in pairwise(starts))
    return even and step > 1 and len(set(blocks)) == 1


def columns_of(header: Header, width: int) -> tuple[RawColumn, ...]:
    """The columns with unique names and the run each belongs to."""
    cells, units = (([*row] + [""] * width)[:width] for row in (header.names, header.units))
    bases, runs = _runs_side_by_side(cells, header.groups)
    full = [
        f"{run} {cell}" if header.groups and run else cell
        for cell, run in zip(cells, runs, strict=True)
    ]
    names = _unique([full[j] if cells[j] else f"column {j + 1}" for j in range(width)])
    return tuple(
        RawColumn(j, names[j], bases[j], read_heading(bases[j], units[j]), runs[j])
        for j in range(width)
    )


def _unique(names: list[str]) -> list[str]:
    seen: Counter[str] = Counter()
    unique = []
    for name in names:
        seen[name] += 1
        unique.append(name if seen[name] == 1 else f"{name}#{seen[name]}")
    return unique


def _runs_side_by_side(
    cells: list[str], groups: Sequence[str]
) -> tuple[list[str], list[str | None]]:
    """Each column's name within its run, and the run's label, by the first rule that fits."""
    if groups:
        return cells, _by_group_row(cells, groups)
    for rule in (_by_run_word, _by_number, _by_repetition):
        if found := rule(cells):
            return found
    return cells, [None] * len(cells)


def _by_group_row(cells: list[str], groups: Sequence[str]) -> list[str | None]:
    starts = [j for j, cell in enumerate(groups) if cell]
    step = starts[1] - starts[0]
    return [next((groups[s] for s in starts if s <= j < s + step), None) for j in range(len(cells))]


def _by_run_word(cells: list[str]) -> tuple[list[str], list[str | None]] | None:
    matches = [_RUN_WORD.search(cell) for cell in cells]
    numbers = {match[1] for match in matches if match}
    if len(numbers) < 2:
        return None
    bases = [_RUN_WORD.sub("", cell).strip(" -_:") or cell for cell in cells]
    return bases, [f"run {match[1]}" if match else None for match in matches]


def _by_number(cells: list[str]) -> tuple[list[str], list[str | None]] | None:
    """ "RPM_1, HP_1, RPM_2, HP_2": one number per run, the same names in each, power among them."""
    matches = [_numbered(cell) for cell in cells]
    sets: dict[str, list[str]] = {}
    for match in matches:
        if match:
            sets.setdefault(match[1], []).append(match[0])
    named = [sorted(names) for names in sets.values()]
    if len(named) < 2 or any(names != named[0] for names in named):
        return None
    if not any(_RUN_HOLDS & set(plain_words(name).split()) for name in named[0]):
        return None
    bases = [match[0] if match else cell for match, cell in zip(matches, cells, strict=True)]
    return bases, [f"run {match[1]}" if match else None for match in matches]


def _numbered(cell: str) -> tuple[str, str] | None:
    """Base and number of "Power 2 (hp)" or "HP_2"."""
    cell = cell[:LONGEST]
    bracket = re.search(r"\s*[\[(][^\d\])]+[\])]\s*$", cell)
    text, unit = (cell[: bracket.start()], bracket[0]) if bracket else (cell, "")
    match = _NUMBER_AT_END.match(text.strip())
    return (match[1] + unit, match[2]) if match else None


def _by_repetition(cells: list[str]) -> tuple[list[str], list[str | None]] | None:
    """ "rpm;kW;Nm;rpm;kW;Nm": the whole list of names comes again."""
    for step in range(2, len(cells) // 2 + 1):
        if len(cells) % step == 0 and cells == cells[:step] * (len(cells) // step):
            return cells, [f"run {j // step + 1}" for j in range(len(cells))]
    return None
