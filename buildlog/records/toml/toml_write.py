"""Whole TOML files in house style, from a dictionary; and how `toml_edit` spells what it adds.

House style: values before sub-tables, tables in the given order, no inline tables, no dotted
keys but quoted ones, `[[arrays]]` adjacent. What tomllib reads back is exactly what was meant,
or nothing is written.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from buildlog.errors import InvalidInput
from buildlog.records.toml.plain_text import hidden

Keys = tuple[str, ...]

_BARE = re.compile(r"[A-Za-z0-9_-]+")


def write(values: Mapping[str, Any]) -> bytes:
    """The file's text; InvalidInput if TOML cannot hold the values.

    >>> print(write({"format": 1, "air": {"humidity": "46 percent"}}).decode(), end="")
    format = 1
    <BLANKLINE>
    [air]
    humidity = "46 percent"
    """
    text = "".join(f"{line}\n" for line in blocks((), values, "")).lstrip("\n")
    if not reads_back(text, values):
        raise InvalidInput("these values would not be read back from TOML as they are")
    return text.encode()


def blocks(keys: Keys, values: Mapping[str, Any], brackets: str) -> Iterator[str]:
    """Lines of a table: its header, its plain values, then the tables in it, each in its place."""
    plain = {key: value for key, value in values.items() if not _is_table(value)}
    inner = {key: value for key, value in values.items() if _is_table(value)}
    if keys and (plain or not inner or brackets == "[[]]"):
        opening, closing = brackets[: len(brackets) // 2], brackets[len(brackets) // 2 :]
        yield from ("", f"{opening}{dotted(keys)}{closing}")
    for key, value in plain.items():
        yield f"{dotted((key,))} = {_text(value, (*keys, key))}"
    for key, value in inner.items():
        if isinstance(value, Mapping):
            yield from blocks((*keys, key), value, "[]")
            continue
        for item in value:
            yield from blocks((*keys, key), item, "[[]]")


def shown(value: Any) -> str:
    """One value as TOML has it."""
    import tomlkit

    item = tomlkit.item(list(value) if isinstance(value, tuple) else value)
    return str(item.as_string())


def dotted(keys: Sequence[str | int]) -> str:
    """A key as TOML has it; positions in arrays are no part of it."""
    names = (key for key in keys if isinstance(key, str))
    return ".".join(key if _BARE.fullmatch(key) else shown(key) for key in names)


def refuse_hidden(value: Any) -> None:
    """InvalidInput if a text among the values would not show as itself."""
    if isinstance(value, list | tuple):
        for one in value:
            refuse_hidden(one)
    elif isinstance(value, str) and (found := hidden(value)):
        raise InvalidInput(f"the text contains the invisible character {found}")


def reads_back(text: str, meant: Mapping[str, Any]) -> bool:
    """Whether tomllib finds in the text exactly what was meant."""
    try:
        return _equal(tomllib.loads(text), meant)
    except tomllib.TOMLDecodeError:
        return False


def _is_table(value: Any) -> bool:
    """Whether a value is written under a header of its own."""
    if isinstance(value, Mapping):
        return True
    is_list = isinstance(value, list | tuple)
    return is_list and bool(value) and all(isinstance(item, Mapping) for item in value)


def _text(value: Any, keys: Keys) -> str:
    refuse_hidden(value)
    try:
        if _holds_table(value):
            raise TypeError
        return shown(value)
    except (ValueError, TypeError) as error:
        raise InvalidInput(
            f"{'.'.join(keys)} holds what TOML has no word for: {value!r}"
        ) from error


def _holds_table(value: Any) -> bool:
    """Whether a table stands among plain values; written there it would be an inline table."""
    if isinstance(value, list | tuple):
        return any(map(_holds_table, value))
    return isinstance(value, Mapping)


def _equal(one: Any, other: Any) -> bool:
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        return one.keys() == other.keys() and all(_equal(one[key], other[key]) for key in one)
    if isinstance(one, list | tuple) and isinstance(other, list | tuple):
        return len(one) == len(other) and all(map(_equal, one, other))
    return type(one) is type(other) and (one == other or (one != one and other != other))
