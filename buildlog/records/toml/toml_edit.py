"""Editing a TOML file the way a careful person would: one value changes, nothing else.

Comments, order, spacing and line ends stay. A new key goes behind the last one of its
table, a new table behind its relatives. Whatever was done is read back with `tomllib`
and must be exactly what was meant; otherwise the edit is refused.
"""

from __future__ import annotations

import copy
import datetime
import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from buildlog.errors import InvalidInput
from buildlog.records.toml.toml_text import Path, Statement, lines_of, split_path, statements
from buildlog.records.toml.toml_write import blocks, dotted, reads_back, refuse_hidden, shown

Scalar = str | int | float | bool | datetime.date | datetime.time
Value = Scalar | Sequence[Scalar] | Sequence[Sequence[Scalar]]

_BOM = "\ufeff"


def set_values(data: bytes, values: Mapping[str, Value], *, order: Sequence[str] = ()) -> bytes:
    """Set dotted paths to values. `order`: the names of top-level tables, as they should stand."""
    data, rest = _replaced_in_one(data, values) if len(values) > 1 else (data, values)
    for path, value in rest.items():
        data = set_value(data, resolve(data, path), value, order=order)
    return data


def _replaced_in_one(data: bytes, values: Mapping[str, Value]) -> tuple[bytes, Mapping[str, Value]]:
    """The text with all those set that have a line of their own already, and the others: many
    values cost one look at the text."""
    text, meant = _read(data)
    known = {one.path: one for one in statements(text) if not one.is_header}
    rest: dict[str, Value] = {}
    found: dict[Path, Value] = {}
    for name, value in values.items():
        path = _resolved(meant, name)
        if path in known:
            found[path] = value
        else:
            rest[name] = value
    lines = lines_of(text)
    for path, value in sorted(found.items(), key=lambda one: -known[one[0]].first):
        refuse_hidden(value)
        _put(meant, path, value)
        there = known[path]
        lines[there.first : there.last] = [
            _replaced("".join(lines[there.first : there.last]), value)
        ]
    return (_checked(lines, meant, data) if found else data), rest


def set_value(data: bytes, path: Path, value: Value, *, order: Sequence[str] = ()) -> bytes:
    """Set one value; a table that isn't there is added."""
    text, meant = _read(data)
    refuse_hidden(value)
    _put(meant, path, value)
    lines = lines_of(text)
    known = list(statements(text))
    there = next((one for one in known if one.path == path and not one.is_header), None)
    if there:
        lines[there.first : there.last] = [
            _replaced("".join(lines[there.first : there.last]), value)
        ]
    else:
        _insert(lines, known, path, value, order)
    return _checked(lines, meant, data)


def delete(data: bytes, name: str) -> bytes:
    """Remove a key, or a table with everything in it."""
    text, meant = _read(data)
    path = resolve(data, name)
    _remove(meant, path, name)
    lines = lines_of(text)
    known = list(statements(text))
    gone = [one for one in known if one.path[: len(path)] == path]
    for one in reversed(gone):
        del lines[one.first : one.last]
        if one.is_header:
            _close_gap(lines, one.first)
    return _checked(lines, _without_empty(meant, known, gone), data)


def append_items(data: bytes, array: str, items: Iterable[Mapping[str, Any]]) -> bytes:
    """Add tables to an array of tables, behind those there are: one more `[[work]]`.

    The items may hold sub-tables and arrays of their own. An array inside an item of another is
    named by its place there ("fastened.2.done").
    """
    text, meant = _read(data)
    path = resolve(data, array)
    level: Any = meant
    for key in path[:-1]:
        level = level[key] if isinstance(key, int) else level.setdefault(key, {})
    there = level.setdefault(path[-1], [])
    if not isinstance(there, list):
        raise InvalidInput(f"{array} is one value in the file and takes no more items")
    lines = lines_of(text)
    around = max((n + 1 for n, key in enumerate(path) if isinstance(key, int)), default=len(path))
    inside = (one.last for one in statements(text) if one.path[:around] == path[:around])
    place = max(inside, default=len(lines))
    keys = tuple(key for key in path if isinstance(key, str))
    for item in items:
        there.append(item)
        place += _put_lines(lines, place, [*blocks(keys, item, "[[]]")][1:], gap=True)
    if lines and not lines[-1].endswith("\n"):
        lines[-1] += "\n"
    return _checked(lines, meant, data)


def value_of(data: bytes, path: Path) -> Any:
    """The value at a path, None where nothing stands there."""
    level: Any = _read(data)[1]
    for key in path:
        there = isinstance(level, dict) and key in level
        there = there or (isinstance(level, list) and isinstance(key, int) and key < len(level))
        if not there:
            return None
        level = level[key]
    return level


def resolve(data: bytes, name: str) -> Path:
    """A path with positions where the text has arrays: "pull.1.use" -> ("pull", 1, "use")."""
    return _resolved(_read(data)[1], name)


def _resolved(level: Any, name: str) -> Path:
    path: list[str | int] = []
    for key in split_path(name):
        if isinstance(level, list):
            if not key.isdecimal() or int(key) >= len(level):
                raise InvalidInput(
                    f"{_words(path)} has places numbered from 0 to {len(level) - 1}",
                    hint=f"write {_words(path)}.0",
                )
            path.append(int(key))
            level = level[int(key)]
        else:
            path.append(key)
            level = level.get(key, {}) if isinstance(level, dict) else {}
    return tuple(path)


def _read(data: bytes) -> tuple[str, dict[str, Any]]:
    try:
        text = data.decode("utf-8").removeprefix(_BOM)
        return text, tomllib.loads(text)
    except (UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError) as error:
        raise InvalidInput(f"the file is not valid TOML: {error}", hint="fix it first") from error


def _checked(lines: list[str], meant: dict[str, Any], before: bytes) -> bytes:
    text = "".join(lines)
    if not reads_back(text, meant):
        raise InvalidInput(
            "this edit cannot be made without changing something else in the file",
            hint="make it by hand in an editor; inline tables and dotted keys are better "
            "written as [tables]",
        )
    bom = _BOM if before.startswith(_BOM.encode()) else ""
    return (bom + text).encode()


def _put(document: dict[str, Any], path: Path, value: Value) -> None:
    level: Any = document
    for key in path[:-1]:
        level = level[key] if isinstance(key, int) else level.setdefault(key, {})
        if not isinstance(level, dict | list):
            raise InvalidInput(f"{_words(path)}: {key} is a value and holds no keys")
    if isinstance(level.get(path[-1]), dict):
        raise InvalidInput(f"{_words(path)} is a table, not a value", hint="name a key inside it")
    level[path[-1]] = list(value) if isinstance(value, tuple) else value


def _remove(document: dict[str, Any], path: Path, name: str) -> None:
    level: Any = document
    try:
        for key in path[:-1]:
            level = level[key]
        del level[path[-1]]
    except (KeyError, IndexError, TypeError):
        raise InvalidInput(f"there is no {name} to remove") from None


def _without_empty(
    meant: dict[str, Any], known: list[Statement], gone: list[Statement]
) -> dict[str, Any]:
    """Parents that only existed through what was removed go too, as tomllib sees it."""
    meant = copy.deepcopy(meant)
    paths = {one.path[:n] for one in known if one not in gone for n in range(len(one.path) + 1)}
    for one in gone:
        for n in range(len(one.path) - 1, 0, -1):
            if one.path[:n] not in paths:
                _drop_empty(meant, one.path[:n])
    return meant


def _drop_empty(document: dict[str, Any], path: Path) -> None:
    level: Any = document
    try:
        for key in path[:-1]:
            level = level[key]
        if level[path[-1]] in ({}, []):
            del level[path[-1]]
    except (KeyError, IndexError, TypeError):
        return


def _replaced(statement: str, value: Value) -> str:
    """One assignment with another value; tomlkit keeps its comment and spacing."""
    import tomlkit

    end = re.search(r"\r?\n?$", statement)
    ending = end.group() if end else ""
    document = tomlkit.parse(statement.replace("\r\n", "\n"))
    level: Any = document
    while True:
        key = next(iter(level))
        if not isinstance(level[key], dict):
            break
        level = level[key]
    level[key] = value
    return tomlkit.dumps(document).rstrip("\n") + ending


def _insert(
    lines: list[str], known: list[Statement], path: Path, value: Value, order: Sequence[str]
) -> None:
    table = path[:-1]
    own = [one for one in known if one.path == table and one.is_header]
    siblings = [one for one in known if one.path[:-1] == table and not one.is_header]
    if own or siblings or not table:
        inside = siblings or [one for one in known if _owner(known, one) == table]
        last = max((one.last for one in (*own, *inside)), default=_after_opening(lines))
        owner = (_owner(known, siblings[-1]) if siblings else table) or ()
        _put_lines(lines, last, [f"{dotted(path[len(owner) :])} = {shown(value)}"], gap=False)
        return
    body = [f"[{dotted(table)}]", f"{dotted(path[-1:])} = {shown(value)}"]
    below = [one.first for one in known if one.path[: len(table)] == table]
    place = min(below) if below else _place(known, table, order, len(lines))
    _put_lines(lines, place, body, gap=True, before=bool(below))


def _after_opening(lines: list[str]) -> int:
    """The line after the comment a file opens with, unless that belongs to a table."""
    place = next((n for n, line in enumerate(lines) if not line.startswith("#")), len(lines))
    return 0 if place < len(lines) and lines[place].strip() else place


def _owner(known: list[Statement], inside: Statement) -> Path | None:
    """The table an assignment stands in; None for a header."""
    headers = [one.path for one in known if one.is_header and one.first < inside.first]
    return None if inside.is_header else headers[-1] if headers else ()


def _place(known: list[Statement], table: Path, order: Sequence[str], end: int) -> int:
    """The line after a new table's nearest relatives, else after what precedes it in `order`."""
    for length in range(len(table) - 1, 0, -1):
        relatives = [one.last for one in known if one.path[:length] == table[:length]]
        if relatives:
            return max(relatives)
    rank = {name: place for place, name in enumerate(order)}
    if table[0] not in rank:
        return end
    own = rank[str(table[0])]
    earlier = [
        one.last
        for one in known
        if (len(one.path) == 1 and not one.is_header) or rank.get(str(one.path[0]), own) < own
    ]
    return max(earlier, default=0)


def _put_lines(
    lines: list[str], place: int, body: Sequence[str], *, gap: bool, before: bool = False
) -> int:
    """Put lines in with the text's own line ends; how many they are, blank ones between counted."""
    ending = "\r\n" if any(line.endswith("\r\n") for line in lines[:50]) else "\n"
    if place and not lines[place - 1].endswith("\n"):
        lines[place - 1] += ending
    new = [line + ending for line in body]
    if gap and place and not before and lines[place - 1].strip():
        new.insert(0, ending)
    follows = place < len(lines) and lines[place].strip()
    if gap and follows:
        new.append(ending)
    lines[place:place] = new
    return len(new)


def _close_gap(lines: list[str], place: int) -> None:
    """After a table went: no two empty lines where it stood."""
    blank_before = place == 0 or not lines[place - 1].strip()
    while place < len(lines) and not lines[place].strip() and blank_before:
        del lines[place]


def _words(path: Sequence[str | int]) -> str:
    return ".".join(map(str, path))
