"""Whole TOML files in house style, from a dictionary: what `tomledit` edits, this writes.

House style: values before sub-tables, tables in the given order, no inline tables, no dotted
keys but quoted ones, `[[arrays]]` adjacent. What tomllib reads back is exactly what was meant,
or nothing is written.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from buildlog.errors import InvalidInput
from buildlog.records.toml.toml_edit import _dotted, _equal, _refuse_hidden, _shown
from buildlog.records.toml.toml_text import lines_of, statements

Keys = tuple[str, ...]


def write(values: Mapping[str, Any]) -> bytes:
    """The file's text; InvalidInput if TOML cannot hold the values.

    >>> print(write({"format": 1, "air": {"humidity": "46 percent"}}).decode(), end="")
    format = 1
    <BLANKLINE>
    [air]
    humidity = "46 percent"
    """
    text = "\n".join(_blocks((), values, "")).lstrip("\n")
    return _checked(text, values)


def append_tables(data: bytes, array: str, items: Sequence[Mapping[str, Any]]) -> bytes:
    """The text with more items in an array of tables, placed after those there are.

    Every other byte stays as it is; the items may hold sub-tables and arrays of their own.
    """
    text = data.decode("utf-8")
    meant = tomllib.loads(text.removeprefix("\ufeff"))
    there = meant.setdefault(array, [])
    if not isinstance(there, list):
        raise InvalidInput(f"{array} is one value in the file and takes no more items")
    there.extend(items)
    lines = lines_of(text)
    inside = [one.last for one in statements(lines) if one.path[:1] == (array,)]
    place = max(inside, default=len(lines))
    ending = "\r\n" if "\r\n" in text else "\n"
    if place and not lines[place - 1].endswith("\n"):
        lines[place - 1] += ending
    body = "\n".join("\n".join(_blocks((array,), item, "[[]]")) for item in items)
    lines.insert(place, body.replace("\n", ending) + ending)
    return _checked("".join(lines), meant)


def _blocks(keys: Keys, values: Mapping[str, Any], brackets: str) -> Iterator[str]:
    """Lines of a table: its header, its plain values, then the tables in it, each in its place."""
    plain = {key: value for key, value in values.items() if not _is_table(value)}
    inner = {key: value for key, value in values.items() if _is_table(value)}
    if keys and (plain or not inner or brackets == "[[]]"):
        opening, closing = brackets[: len(brackets) // 2], brackets[len(brackets) // 2 :]
        yield f"\n{opening}{_dotted(keys)}{closing}"
    for key, value in plain.items():
        yield f"{_dotted((key,))} = {_text(value, (*keys, key))}"
    for key, value in inner.items():
        if isinstance(value, Mapping):
            yield from _blocks((*keys, key), value, "[]")
            continue
        for item in value:
            yield from _blocks((*keys, key), item, "[[]]")


def _is_table(value: Any) -> bool:
    """Whether a value is written under a header of its own."""
    if isinstance(value, Mapping):
        return True
    is_list = isinstance(value, list | tuple)
    return is_list and bool(value) and all(isinstance(item, Mapping) for item in value)


def _text(value: Any, keys: Keys) -> str:
    _refuse_hidden(value)
    try:
        if _holds_table(value):
            raise TypeError
        return _shown(value)
    except (ValueError, TypeError) as error:
        raise InvalidInput(
            f"{'.'.join(keys)} holds what TOML has no word for: {value!r}"
        ) from error


def _holds_table(value: Any) -> bool:
    """Whether a table stands among plain values; written there it would be an inline table."""
    if isinstance(value, list | tuple):
        return any(map(_holds_table, value))
    return isinstance(value, Mapping)


def _checked(text: str, meant: Mapping[str, Any]) -> bytes:
    try:
        found = tomllib.loads(text.removeprefix("\ufeff"))
    except tomllib.TOMLDecodeError as error:
        raise InvalidInput(f"these values cannot be written as TOML: {error}") from None
    if not _equal(found, _listed(meant)):
        raise InvalidInput("these values would not be read back from TOML as they are")
    return text.encode() if text.endswith("\n") or not text else f"{text}\n".encode()


def _listed(value: Any) -> Any:
    """The value with tuples as the lists that TOML reads back."""
    if isinstance(value, Mapping):
        return {key: _listed(inner) for key, inner in value.items()}
    return [_listed(item) for item in value] if isinstance(value, list | tuple) else value
