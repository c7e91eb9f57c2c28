"""What one place of a TOML file holds, alone: so that two people may change two places at once."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping, Sequence
from typing import Any

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
    told = [value_at(data, place) for place in places]
    return told[0] if len(told) == 1 else json.dumps(told)


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
