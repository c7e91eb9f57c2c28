"""Two versions of car.toml that came from one, joined field by field into one text.

The result depends on what the three texts say, never on which side is called ours: the
ancestor's text is edited, in the order of the model, to what both sides made of it, and
their comments are carried into it (`comments`).
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from buildlog.errors import InvalidInput
from buildlog.records.configuration import Configuration
from buildlog.records.merge import Conflict, Side, merge
from buildlog.records.paths import KEY_FIELDS, Value, assembly, leaves, same_value
from buildlog.records.reading import read
from buildlog.store import comments, tomledit, tomlwrite
from buildlog.store.tomltext import lines_of, statements
from buildlog.units import Quantity

_ITEM = re.compile(r"(?P<table>\w+)\[(?P<key>.*)\]\.(?P<rest>[\w.]+)")
_QUOTED = re.compile(r'(?P<table>[\w.]+)\."(?P<key>[^"]+)"')
_ORDER = tuple(Configuration.model_fields)
Leaves = dict[str, Value]


class Unsure:
    """A value on which several common ancestors differ: no side may be preferred by it."""


def fields(data: bytes) -> Leaves:
    """The leaves of a car.toml; InvalidInput if it is none."""
    return leaves(read(Configuration, data, "car.toml"))


def ancestor(bases: Sequence[bytes]) -> dict[str, Any]:
    """What the common ancestors say together."""
    known = [fields(data) for data in bases]
    paths = dict.fromkeys(path for held in known for path in held)
    agreed = {path: [held.get(path) for held in known] for path in paths}
    return {
        path: values[0] if all(same_value(values[0], value) for value in values) else Unsure()
        for path, values in agreed.items()
    }


def joined(
    bases: Sequence[bytes], one: bytes, other: bytes, decided: Mapping[str, Side] | None = None
) -> tuple[bytes | None, tuple[Conflict, ...], Leaves]:
    """The joined text, the undecided fields, the joined leaves. No text while undecided.

    "ours" in `decided` is `one`, "theirs" is `other`.
    """
    base, mine, their = ancestor(bases), fields(one), fields(other)
    merged = merge(base, mine, their, decided)
    values = {
        path: _spelling(base.get(path), mine.get(path), their.get(path), value)
        for path, value in merged.values.items()
    }
    if merged.conflicts:
        return None, merged.conflicts, values
    start = min(bases, default=min(one, other))
    return comments.carried(start, one, other, written(start, values)), (), values


def written(data: bytes, values: Leaves) -> bytes:
    """The text edited to hold exactly these leaves, or written anew where that cannot be done."""
    try:
        edited = _edited(data, values)
        if _same(fields(edited), values):
            return edited
    except (InvalidInput, KeyError, IndexError):
        pass
    anew = tomlwrite.write(_nested(values))
    if not _same(fields(anew), values):
        raise InvalidInput("what both sides say together is no valid car.toml")
    return anew


def _spelling(was: Any, one: Value | None, other: Value | None, value: Value) -> Value:
    """Of two spellings of one value, the one that is new; of two new ones always the same."""
    if one is None or other is None or not same_value(one, other):
        return value
    texts = {str(_plain(side)): side for side in (one, other)}
    if len(texts) == 2:
        texts.pop(str(_plain(was)), None)
    return texts[min(texts)]


def _same(found: Leaves, meant: Leaves) -> bool:
    return all(same_value(found.get(path), meant.get(path)) for path in {*found, *meant})


def _edited(data: bytes, values: Leaves) -> bytes:
    before = fields(data)
    changed = [
        path
        for path in sorted({*before, *values}, key=_rank)
        if str(_plain(before.get(path))) != str(_plain(values.get(path)))
    ]
    items: dict[tuple[str, str], list[str]] = {}
    for path in changed:
        item = _ITEM.fullmatch(path)
        if item:
            items.setdefault((item["table"], item["key"]), []).append(path)
        elif path in values:
            data = tomledit.set_value(data, _keys(path), _plain(values[path]), order=_ORDER)
        else:
            data = tomledit.delete(data, path)
    for (table, key), paths in items.items():
        data = _item(data, table, key, paths, values)
    return data


def _item(data: bytes, table: str, key: str, paths: Iterable[str], values: Leaves) -> bytes:
    """One item of an array of tables: added, changed where it is, or taken out."""
    prefix = f"{table}[{key}]."
    meant = {path.removeprefix(prefix): v for path, v in values.items() if path.startswith(prefix)}
    listed = tomllib.loads(data.decode("utf-8-sig")).get(table, [])
    names = [str(item.get(KEY_FIELDS[table])) for item in listed]
    if key not in names:
        return tomlwrite.append_tables(data, table, [_nested(meant)])
    place = names.index(key)
    if not meant:
        return _without(data, (table, place))
    for path in paths:
        rest = path.removeprefix(prefix)
        if rest not in meant:
            data = tomledit.delete(data, f"{table}.{place}.{rest}")
        else:
            keys: tuple[str | int, ...] = (table, place, *rest.split("."))
            data = tomledit.set_value(data, keys, _plain(meant[rest]), order=_ORDER)
    return data


def _without(data: bytes, item: tuple[str | int, ...]) -> bytes:
    """The text without the lines of one item."""
    lines = lines_of(data.decode("utf-8"))
    gone = [one for one in statements(lines) if one.path[: len(item)] == item]
    for one in reversed(gone):
        del lines[one.first : one.last]
    return "".join(lines).encode()


def _rank(path: str) -> tuple[int, str]:
    table = assembly(path)
    return (_ORDER.index(table) if table in _ORDER else len(_ORDER), path)


def _keys(path: str) -> tuple[str, ...]:
    quoted = _QUOTED.fullmatch(path)
    return (*quoted["table"].split("."), quoted["key"]) if quoted else tuple(path.split("."))


def _nested(values: Mapping[str, Value]) -> dict[str, Any]:
    """The leaves as the tables that they came from."""
    whole: dict[str, Any] = {}
    items: dict[tuple[str, str], dict[str, Value]] = {}
    for path in sorted(values, key=_rank):
        item = _ITEM.fullmatch(path)
        if item:
            items.setdefault((item["table"], item["key"]), {})[item["rest"]] = values[path]
            continue
        level = whole
        *tables, last = _keys(path)
        for table in tables:
            level = level.setdefault(table, {})
        level[last] = _plain(values[path])
    for (table, _), inner in items.items():
        whole.setdefault(table, []).append(_nested(inner))
    return whole


def _plain(value: Any) -> Any:
    """A leaf as TOML writes it; a quantity as its author wrote it."""
    if isinstance(value, Quantity):
        return value.text
    return [_plain(one) for one in value] if isinstance(value, tuple) else value
