"""What one place of a TOML file holds, alone: so that two people may change two places at once."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping, Sequence
from typing import Any

Place = Sequence[str | Mapping[str, str | int]]
"""Keys from the top; a mapping chooses the item of an array by its fields:
("item", {"key": "tyres"})."""

_WHO_AND_WHEN = frozenset({"by", "at", "who", "when"})  # two who say the same do not differ


def value_at(data: bytes, place: Place) -> str:
    """What stands at a place as one text, "" where nothing does: equal texts say the same.

    Who wrote it and when is left out. A text that is no TOML holds nothing anywhere.

    >>> value_at(b'[[item]]\\nkey = "tyres"\\nresult = "pass"\\nby = "D-03"', ["item", {"key": "tyres"}])
    '{"key": "tyres", "result": "pass"}'
    """  # noqa: E501
    found = _found(data, place)
    return "" if found is None else json.dumps(_said(found), sort_keys=True, default=str)


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
        level = level.get(key) if isinstance(key, str) and isinstance(level, dict) else (
            _chosen(level, key))  # fmt: skip
        if level is None:
            return None
    return level


def _chosen(items: Any, by: str | Mapping[str, str | int]) -> Any:
    if isinstance(by, str) or not isinstance(items, list):
        return None
    fits = (one for one in items if isinstance(one, dict) and by.items() <= one.items())
    return next(fits, None)


def _said(found: Any) -> Any:
    if isinstance(found, dict):
        return {key: _said(one) for key, one in found.items() if key not in _WHO_AND_WHEN}
    return [_said(one) for one in found] if isinstance(found, list) else found
