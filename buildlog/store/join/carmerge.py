"""Two versions of a TOML file that came from one, joined field by field into one text.

The result depends on what the three texts say, never on which side is called ours: the
ancestor's text is edited, in the order of the model, to what both sides made of it, and
their comments are carried into it (`comments`).
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from buildlog.errors import InvalidInput
from buildlog.records.configuration import Configuration
from buildlog.records.merge import Conflict, Side, merge
from buildlog.records.paths import KEY_FIELDS, Value, assembly, leaves, same_value
from buildlog.records.reading import read
from buildlog.records.toml import toml_edit, toml_write
from buildlog.records.toml.toml_text import lines_of, statements
from buildlog.store.join import comments
from buildlog.units import Quantity

_ITEM = re.compile(r"(?P<table>\w+)\[(?P<key>.*)\]\.(?P<rest>[\w.]+)")
_QUOTED = re.compile(r'(?P<table>[\w.]+)\."(?P<key>[^"]+)"')
Leaves = dict[str, Value]


def _as_it_is(values: Leaves) -> Leaves:
    return values


@dataclass(frozen=True)
class Form:
    """How a kind of file is taken apart: its leaves, what names its items, how tables stand.

    `grouped` puts leaves together that are one statement (a prior and its source), `apart`
    undoes it.
    """

    read: Callable[[bytes], Leaves]
    keys: Mapping[str, str]
    order: tuple[str, ...] = ()
    grouped: Callable[[Leaves], Leaves] = _as_it_is
    apart: Callable[[Leaves], Leaves] = _as_it_is

    def fields(self, data: bytes) -> Leaves:
        """What one side can say differently from the other, by name."""
        return self.grouped(self.read(data))

    def rank(self, path: str) -> tuple[int, str]:
        """Where a path stands in a file."""
        table = assembly(path)
        return (self.order.index(table) if table in self.order else len(self.order), path)


class Unsure:
    """A value on which several common ancestors differ: no side may be preferred by it."""


def fields(data: bytes) -> Leaves:
    """The leaves of a car.toml; InvalidInput if it is none."""
    return leaves(read(Configuration, data, "car.toml"))


CAR = Form(fields, KEY_FIELDS, tuple(Configuration.model_fields))


def ancestor(bases: Sequence[bytes], form: Form = CAR) -> dict[str, Any]:
    """What the common ancestors say together."""
    known = [form.fields(data) for data in bases]
    paths = dict.fromkeys(path for held in known for path in held)
    agreed = {path: [held.get(path) for held in known] for path in paths}
    return {
        path: values[0] if all(same_value(values[0], value) for value in values) else Unsure()
        for path, values in agreed.items()
    }


def joined(
    bases: Sequence[bytes],
    one: bytes,
    other: bytes,
    decided: Mapping[str, Side] | None = None,
    form: Form = CAR,
) -> tuple[bytes | None, tuple[Conflict, ...], Leaves]:
    """The joined text, the undecided fields, the joined fields. No text while undecided.

    "ours" in `decided` is `one`, "theirs" is `other`.
    """
    base, mine, their = ancestor(bases, form), form.fields(one), form.fields(other)
    merged = merge(base, mine, their, decided)
    values = {
        path: _spelling(base.get(path), mine.get(path), their.get(path), value)
        for path, value in merged.values.items()
    }
    if merged.conflicts:
        return None, merged.conflicts, values
    text = written(min(bases, default=min(one, other)), form.apart(values), form)
    return comments.carried(min(bases, default=b""), one, other, text), (), values


def written(data: bytes, values: Leaves, form: Form = CAR) -> bytes:
    """The text edited to hold exactly these leaves, or written anew where that cannot be done."""
    try:
        edited = _edited(data, values, form)
        if _same(form.read(edited), values):
            return edited
    except (InvalidInput, KeyError, IndexError):
        pass
    anew = toml_write.write(_nested(values, form))
    if not _same(form.read(anew), values):
        raise InvalidInput("what both sides say together is no valid file of its kind")
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


def _edited(data: bytes, values: Leaves, form: Form) -> bytes:
    before = form.read(data)
    changed = [
        path
        for path in sorted({*before, *values}, key=form.rank)
        if str(_plain(before.get(path))) != str(_plain(values.get(path)))
    ]
    items: dict[tuple[str, str], list[str]] = {}
    for path in changed:
        item = _ITEM.fullmatch(path)
        if item:
            items.setdefault((item["table"], item["key"]), []).append(path)
        elif path in values:
            data = toml_edit.set_value(data, _keys(path), _plain(values[path]), order=form.order)
        else:
            data = toml_edit.delete(data, path)
    for (table, key), paths in items.items():
        data = _item(data, table, key, paths, values, form)
    return data


def _item(
    data: bytes, table: str, key: str, paths: Iterable[str], values: Leaves, form: Form
) -> bytes:
    """One item of an array of tables: added, changed where it is, or taken out."""
    prefix = f"{table}[{key}]."
    meant = {path.removeprefix(prefix): v for path, v in values.items() if path.startswith(prefix)}
    listed = tomllib.loads(data.decode("utf-8-sig")).get(table, [])
    names = [str(item.get(form.keys[table])) for item in listed]
    if key not in names:
        return toml_write.append_tables(data, table, [_nested(meant, form)])
    place = names.index(key)
    if not meant:
        return _without(data, (table, place))
    for path in paths:
        rest = path.removeprefix(prefix)
        if rest not in meant:
            data = toml_edit.delete(data, f"{table}.{place}.{rest}")
        else:
            keys: tuple[str | int, ...] = (table, place, *rest.split("."))
            data = toml_edit.set_value(data, keys, _plain(meant[rest]), order=form.order)
    return data


def _without(data: bytes, item: tuple[str | int, ...]) -> bytes:
    """The text without the lines of one item."""
    lines = lines_of(data.decode("utf-8"))
    gone = [one for one in statements(lines) if one.path[: len(item)] == item]
    for one in reversed(gone):
        del lines[one.first : one.last]
    return "".join(lines).encode()


def _keys(path: str) -> tuple[str, ...]:
    quoted = _QUOTED.fullmatch(path)
    return (*quoted["table"].split("."), quoted["key"]) if quoted else tuple(path.split("."))


def _nested(values: Mapping[str, Value], form: Form) -> dict[str, Any]:
    """The leaves as the tables that they came from."""
    whole: dict[str, Any] = {}
    items: dict[tuple[str, str], dict[str, Value]] = {}
    for path in sorted(values, key=form.rank):
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
        whole.setdefault(table, []).append(_nested(inner, form))
    return whole


def _plain(value: Any) -> Any:
    """A leaf as TOML writes it; a quantity as its author wrote it."""
    if isinstance(value, Quantity):
        return value.text
    return [_plain(one) for one in value] if isinstance(value, tuple) else value
