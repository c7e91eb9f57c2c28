"""How the other editable files are taken apart to be joined: priors, lists, sessions.

What cannot be taken apart without a doubt (two items of one name, a table in a table in an
array) is an InvalidInput: then the file is joined, or asked about, as one piece.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, cast

from buildlog import units
from buildlog.errors import BuildlogError, InvalidInput
from buildlog.records.checks import Checklist
from buildlog.records.leaf_text import CAR, Form, Leaves
from buildlog.records.paths import KEY_FIELDS, Value
from buildlog.records.reading import read
from buildlog.records.session import Session
from buildlog.store.git import ledger_files

_KEYS = KEY_FIELDS | {"pull": "file"}
_BARE = re.compile(r"\w[\w-]*", re.ASCII)


@dataclass(frozen=True)
class Together:
    """Values that are one statement: numbers and the source that gives them."""

    values: tuple[tuple[str, Value], ...]

    def __str__(self) -> str:
        return ", ".join(f"{name} {value}" for name, value in self.values)


def form_of(path: str) -> Form | None:
    """How a file is taken apart; None: it is joined as one piece."""
    return _FORMS.get(ledger_files.kind_of(path) or "")


def _plain(data: bytes) -> Leaves:
    """The leaves of any TOML file, as strict as their names need it."""
    try:
        document = tomllib.loads(data.decode("utf-8-sig"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError) as error:
        raise InvalidInput(f"the file is not valid TOML: {error}") from error
    found = list(_walk(document, "", ""))
    if len(dict(found)) < len(found):
        raise InvalidInput("two items have one name")
    return dict(found)


def _walk(table: dict[str, Any], prefix: str, inside: str) -> Iterator[tuple[str, Value]]:
    for name, value in table.items():
        if not _BARE.fullmatch(name):
            raise InvalidInput(f"the name {name!r} needs quotes")
        if isinstance(value, dict):
            yield from _walk(value, f"{prefix}{name}.", inside)
        elif isinstance(value, list) and any(isinstance(one, dict) for one in value):
            if prefix or name not in _KEYS:
                raise InvalidInput(f"the items of {name} have no names")
            yield from _items(name, value)
        else:
            if inside and "-" in name:
                raise InvalidInput(f"the name {name!r} stands in an item")
            yield f"{prefix}{name}", _value(value)


def _items(name: str, listed: list[Any]) -> Iterator[tuple[str, Value]]:
    seen: set[str] = set()
    for item in listed:
        key = item.get(_KEYS[name]) if isinstance(item, dict) else None
        if not isinstance(key, str) or key in seen or "]" in key:
            raise InvalidInput(f"an item of {name} has no name of its own")
        seen.add(key)
        yield from _walk(item, f"{name}[{key}].", name)


def _value(value: Any) -> Value:
    if isinstance(value, str):
        unit = units.find(value.strip().partition(" ")[2])
        try:
            return units.parse(value, (unit.dimension,)) if unit else value
        except BuildlogError:
            return value
    return tuple(map(_value, value)) if isinstance(value, list) else cast("Value", value)


def _read_as(model: Any) -> Callable[[bytes], Leaves]:
    def reading(data: bytes) -> Leaves:
        read(model, data, "the file")  # what is not valid is not taken apart
        return _plain(data)

    return reading


def _grouped(values: Leaves) -> Leaves:
    """A table of priors.toml is one statement: nobody stated a mixture of two."""
    groups: dict[str, list[tuple[str, Value]]] = {}
    for path, value in sorted(values.items()):
        group, _, rest = path.partition(".")
        groups.setdefault(group, []).append((rest, value))
    return {
        group: held[0][1] if not held[0][0] else cast("Value", Together(tuple(held)))
        for group, held in groups.items()
    }


def _apart(values: Leaves) -> Leaves:
    found: Leaves = {}
    for group, value in values.items():
        if isinstance(value, Together):
            found |= {f"{group}.{rest}": inner for rest, inner in value.values}
        else:
            found[group] = value
    return found


_FORMS: dict[str, Form] = {
    "configuration": CAR,
    "priors": Form(_plain, {}, ("format",), _grouped, _apart),
    "list": Form(_read_as(Checklist), _KEYS, ("format", "name", "title")),
    "session": Form(_read_as(Session), _KEYS, tuple(Session.model_fields)),
}
