"""What one place of a TOML file holds, alone: so that two people may change two places at once."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping, Sequence
from typing import Any

from buildlog.errors import InvalidInput
from buildlog.records.toml import toml_edit, toml_write
from buildlog.records.toml.toml_write import dotted

Place = Sequence[str | Mapping[str, str | int] | Sequence[str]]
"""Keys from the top; a mapping chooses the item of an array by its fields, and a list of names at
the end takes these fields alone: ("item", {"key": "tyres"}, ["result", "value"])."""

_WHO_AND_WHEN = frozenset({"by", "at", "who", "when"})  # two who say the same do not differ
_ANSWERED = "answered"  # that somebody said it is a difference, whoever it was


def value_at(data: bytes, place: Place) -> str:
    """What stands at a place as one text, "" where nothing does: equal texts say the same.

    Who wrote it and when is left out, but that somebody did. A text that is no TOML holds nothing
    anywhere.

    >>> text = b'[[item]]\\nkey = "tyres"\\nnote = "worn"\\nby = "D-03"'
    >>> value_at(text, ["item", {"key": "tyres"}])
    '{"answered": true, "key": "tyres", "note": "worn"}'
    """
    names = None if not place or isinstance(place[-1], str | Mapping) else {*place[-1], _ANSWERED}
    found = _found(data, place[:-1] if names else place)
    if found is None:
        return ""
    said = _said(found)
    if names and isinstance(said, dict):
        said = {key: one for key, one in said.items() if key in names}
    return json.dumps(said, sort_keys=True, default=str)


def values_at(data: bytes, places: Sequence[Place]) -> str:
    """The same of several places, as one text."""
    return together([value_at(data, place) for place in places])


def together(held: Sequence[str]) -> str:
    """What several places hold, each as `value_at` says it, as one text."""
    return held[0] if len(held) == 1 else json.dumps(list(held))


def held_text(data: bytes, places: Sequence[Place]) -> str:
    """All that places hold, who and when included, as a TOML text: one key a place."""
    held = {f"p{number}": _found(data, _whole(place)) for number, place in enumerate(places)}
    return toml_write.write({key: one for key, one in held.items() if one is not None}).decode()


def put_back(data: bytes, places: Sequence[Place], was: str) -> bytes:
    """The text with its places as `held_text` says that they were."""
    held = tomllib.loads(was)
    for number, place in enumerate(places):
        data = _put_one(data, _whole(place), held.get(f"p{number}"))
    return data


def _put_one(data: bytes, place: Place, was: Any) -> bytes:
    path = _dotted(data, place)
    now = _found(data, place)
    if was is None:
        return data if path is None or now is None else toml_edit.delete(data, path)
    if path is None:
        raise InvalidInput("what it was cannot be put back here", hint="set it by hand")
    if not isinstance(was, dict) or not isinstance(now, dict):
        return toml_edit.set_values(data, {path: was})
    for key in now.keys() - was.keys():
        data = toml_edit.delete(data, f"{path}.{dotted((key,))}")
    changed = {key: one for key, one in was.items() if now.get(key) != one}
    return toml_edit.set_values(data, {f"{path}.{dotted((key,))}": v for key, v in changed.items()})


def _whole(place: Place) -> Place:
    """A place without the names that choose some of its fields."""
    named = place and not isinstance(place[-1], str | Mapping)
    return place[:-1] if named else place


def _dotted(data: bytes, place: Place) -> str | None:
    """A place as the editor names it: items by their number; None where there is no such item."""
    level, keys = _found(data, []), []
    for key in place:
        if isinstance(key, Mapping):
            items = level if isinstance(level, list) else []
            hits = [n for n, one in enumerate(items) if key.items() <= one.items()]
            if not hits:
                return None
            keys.append(str(hits[0]))
            level = items[hits[0]]
        else:
            keys.append(dotted((str(key),)))
            level = level.get(key) if isinstance(level, dict) else None
    return ".".join(keys)


def _found(data: bytes, place: Place) -> Any:
    try:
        level: Any = tomllib.loads(data.decode("utf-8-sig"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError):
        return None
    for key in place:
        if isinstance(key, Mapping):
            level = _chosen(level, key)
        else:
            level = level.get(key) if isinstance(level, dict) else None
        if level is None:
            return None
    return level


def _chosen(items: Any, by: Mapping[str, str | int]) -> Any:
    if not isinstance(items, list):
        return None
    fits = (one for one in items if isinstance(one, dict) and by.items() <= one.items())
    return next(fits, None)


def _said(found: Any) -> Any:
    if isinstance(found, dict):
        told = {key: _said(one) for key, one in found.items() if key not in _WHO_AND_WHEN}
        return told | ({_ANSWERED: True} if len(told) < len(found) else {})
    return [_said(one) for one in found] if isinstance(found, list) else found
