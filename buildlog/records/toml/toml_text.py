"""A TOML text as statements with their lines, so that an edit touches no other byte.

Every statement (a header or `key = value`) knows its full path; a table inside an array
of tables has its position in the path: ("pull", 1, "use").
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass

from buildlog.errors import InvalidInput

Path = tuple[str | int, ...]
_LONGEST_STATEMENT = 2000  # lines


@dataclass(frozen=True)
class Statement:
    """Lines `first` to `last` (not included) of the text."""

    path: Path
    first: int
    last: int
    is_header: bool


def split_path(text: str) -> tuple[str, ...]:
    """The keys of a dotted path; `calibration.written_for."fuel.injectors.flow"` has three."""
    try:
        if "\n" in text or "=" in _unquoted(text):
            raise ValueError
        return _chain(tomllib.loads(f"{text} = 0"))
    except ValueError:
        raise InvalidInput(
            f"{text!r} is not a path of keys", hint='write it like "fuel.injectors.flow"'
        ) from None


def lines_of(text: str) -> list[str]:
    """The lines with their own line ends."""
    return re.findall(r"[^\n]*\n|[^\n]+", text)


def statements(lines: list[str]) -> Iterator[Statement]:
    """Every header and assignment, in order. The text must be valid TOML."""
    table: Path = ()
    counts: dict[Path, int] = {}
    number = 0
    while number < len(lines):
        stripped = lines[number].strip()
        if not stripped or stripped.startswith("#"):
            number += 1
        elif stripped.startswith("["):
            table = _header(stripped, counts)
            yield Statement(table, number, number + 1, True)
            number += 1
        else:
            last = _end(lines, number)
            yield Statement(table + _key(lines[number]), number, last, False)
            number = last


def _header(line: str, counts: dict[Path, int]) -> Path:
    keys = _chain(tomllib.loads(line))
    path: Path = ()
    for key in keys[:-1]:
        path = _in_array((*path, key), counts)
    path = (*path, keys[-1])
    if line.startswith("[["):
        counts[path] = counts.get(path, -1) + 1
    return _in_array(path, counts)


def _in_array(path: Path, counts: dict[Path, int]) -> Path:
    return (*path, counts[path]) if path in counts else path


def _end(lines: list[str], first: int) -> int:
    """The line after an assignment: values may span lines."""
    text = ""
    for last in range(first, min(len(lines), first + _LONGEST_STATEMENT)):
        text += lines[last]
        try:
            tomllib.loads(text)
        except tomllib.TOMLDecodeError:
            continue
        return last + 1
    raise InvalidInput("the value does not end", where=f"line {first + 1}")


def _key(line: str) -> tuple[str, ...]:
    key = line[: _unquoted(line).index("=")]
    return _chain(tomllib.loads(f"{key} = 0"))


def _chain(document: dict[str, object]) -> tuple[str, ...]:
    keys: list[str] = []
    level: object = document
    while isinstance(level, dict) and level:
        key, level = next(iter(level.items()))
        keys.append(key)
        if isinstance(level, list):
            break
    return tuple(keys)


def _unquoted(line: str) -> str:
    """The line with the content of quoted keys blanked, of the same length."""
    return re.sub(r'"(?:[^"\\\n]|\\.)*"|\'[^\'\n]*\'', lambda match: "_" * len(match.group()), line)
