"""A TOML text as statements: what each header and each `key = value` names, and where it stands.

tomllib gives values without places. This scanner follows headers, keys and the ends of values
only; it is used on texts that tomllib has already accepted. A table inside an array of tables
has its position in the path: ("pull", 1, "use").
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass

from buildlog.errors import InvalidInput

Path = tuple[str | int, ...]
Place = tuple[int, int]  # line and column of the value, both from 1

_OPENING = re.compile(r"[ \t]*(\[\[?)")
_NOTHING = re.compile(r"[ \t\r]*(?:#[^\n]*)?(?:\n|\Z)")
_KEY_PART = re.compile(r"""[ \t]*("(?:[^"\\\n]|\\.)*"|'[^'\n]*'|[A-Za-z0-9_-]+)[ \t]*(\.?)""")
_VALUE = re.compile(r"=[ \t]*")
# What a value is made of where its end is looked for: whole strings and comments, brackets, ends.
# Nothing here can be matched in two ways, so that no quantifier needs to be possessive: those of
# Python 3.11's first releases lose their place.
_PIECE = re.compile(
    r'''"""[^"\\]*(?:(?:\\.|"{1,2}(?!"))[^"\\]*)*"{3,5}|\'\'\'[^']*(?:'{1,2}(?!')[^']*)*'{3,5}'''
    r"""|"[^"\\\n]*(?:\\.[^"\\\n]*)*"|'[^'\n]*'|\#[^\n]*|[\[{]|[\]}]|\n""",
    re.DOTALL,
)


@dataclass(frozen=True, slots=True)
class Statement:
    """A header or an assignment: lines `first` to `last` (not included) of the text, from 0.

    column: where the header, or the assignment's value, begins in the first line, from 1.
    """

    path: Path
    first: int
    last: int
    is_header: bool
    column: int


def statements(text: str) -> Iterator[Statement]:
    """Every header and assignment of a valid TOML text, in order."""
    table: Path = ()
    counts: dict[Path, int] = {}
    start, number = 0, 0
    while start < len(text):
        if blank := _NOTHING.match(text, start):
            start, number = blank.end(), number + 1
            continue
        opening = _OPENING.match(text, start)
        keys, at = _keys(text, opening.end() if opening else start)
        if opening:
            table = _table(keys, counts, is_item=opening[1] == "[[")
            path, column = table, opening.start(1)
        else:
            value = _VALUE.match(text, at)
            path, column = (*table, *keys), value.end() if value else at
        end = _end(text, at)
        last = number + text.count("\n", start, end) + (text[end - 1] != "\n")
        yield Statement(path, number, last, opening is not None, column - start + 1)
        start, number = end, last


def places(text: str) -> dict[Path, Place]:
    """The place of each table, array item and value of a valid TOML text."""
    return {one.path: (one.first + 1, one.column) for one in statements(text)}


def nearest_place(found: dict[Path, Place], path: Path) -> Place | None:
    """The place of the path, else of the nearest table around it."""
    around = (path[:length] for length in range(len(path), 0, -1))
    return next((found[one] for one in around if one in found), None)


def split_path(text: str) -> tuple[str, ...]:
    """The keys of a dotted path; `calibration.written_for."fuel.injectors.flow"` has three."""
    try:
        keys, end = _keys(text, 0)
        tomllib.loads(f"{text[:end]} = 0")
        if end == len(text):
            return keys
    except ValueError:
        pass
    raise InvalidInput(
        f"{text!r} is not a path of keys", hint='write it like "fuel.injectors.flow"'
    )


def lines_of(text: str) -> list[str]:
    """The lines with their own line ends."""
    return re.findall(r"[^\n]*\n|[^\n]+", text)


def _table(keys: tuple[str, ...], counts: dict[Path, int], *, is_item: bool) -> Path:
    """The path of a header: behind each array of tables the position of its newest item."""
    path: Path = ()
    for key in keys[:-1]:
        path = (*path, key)
        path = (*path, counts[path]) if path in counts else path
    path = (*path, keys[-1])
    if not is_item:
        return path
    counts[path] = counts.get(path, -1) + 1
    return (*path, counts[path])


def _keys(text: str, position: int) -> tuple[tuple[str, ...], int]:
    """The (dotted) key that starts here, and where it ends."""
    keys: list[str] = []
    while part := _KEY_PART.match(text, position):
        keys.append(_key(part[1]))
        position = part.end()
        if not part[2]:
            break
    return tuple(keys), position


def _key(part: str) -> str:
    if part[0] not in "\"'":
        return part
    if "\\" not in part:
        return part[1:-1]
    return str(tomllib.loads(f"key = {part}")["key"])


def _end(text: str, position: int) -> int:
    """Where the line ends on which the value (or header) that starts here does."""
    depth = 0
    for piece in _PIECE.finditer(text, position):
        sign = piece[0]
        if sign in "[{":
            depth += 1
        elif sign in "]}":
            depth -= 1
        elif sign == "\n" and depth <= 0:
            return piece.end()
    return len(text)
