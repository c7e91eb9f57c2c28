"""Fields that an entry puts back to what they were before the entry before it.

A plain `git commit` from an old copy does that without anybody meaning it.
"""

from __future__ import annotations

import tomllib
from typing import Any

_ABSENT = object()


def undone_fields(grandparent: bytes, parent: bytes, entry: bytes) -> list[str]:
    """The dotted paths whose value the parent changed and the entry put back."""
    old, middle, new = (_flat(text) for text in (grandparent, parent, entry))
    if old is None or middle is None or new is None:
        return []
    return sorted(
        path
        for path in old.keys() | middle.keys() | new.keys()
        if _at(new, path) == _at(old, path) != _at(middle, path)
    )


def _at(flat: dict[str, Any], path: str) -> Any:
    return flat.get(path, _ABSENT)


def _flat(data: bytes) -> dict[str, Any] | None:
    try:
        return dict(_leaves(tomllib.loads(data.decode("utf-8-sig")), ""))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError):
        return None


def _leaves(value: Any, path: str) -> list[tuple[str, Any]]:
    if not isinstance(value, dict):
        return [(path, value)]
    found = []
    for key, inner in value.items():
        found += _leaves(inner, f"{path}.{key}" if path else key)
    return found
