"""A TOML file as leaves by path, and leaves put into its text: comments and order kept."""

from __future__ import annotations

import contextlib
import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from buildlog.records.car.configuration import Configuration
from buildlog.records.fields.newer import value_at
from buildlog.records.paths import KEY_FIELDS, Tables, Value, assembly, leaves, same_value
from buildlog.records.reading import read
from buildlog.records.toml import toml_edit
from buildlog.records.toml.toml_text import lines_of, statements
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


def fields(data: bytes) -> Leaves:
    """The leaves of a car.toml; InvalidInput if it is none."""
    return leaves(read(Configuration, data, "car.toml"))


CAR = Form(fields, KEY_FIELDS, tuple(Configuration.model_fields))


def edited(data: bytes, values: Leaves, form: Form = CAR) -> bytes:
    """The text with exactly these leaves, as far as an edit can make it so."""
    before = form.read(data)
    changed = [
        path
        for path in sorted({*before, *values}, key=form.rank)
        if str(plain(before.get(path))) != str(plain(values.get(path)))
    ]
    items: dict[tuple[str, str], list[str]] = {}
    for path in changed:
        item = _ITEM.fullmatch(path)
        if item:
            items.setdefault((item["table"], item["key"]), []).append(path)
        elif isinstance(before.get(path, values.get(path)), Tables):
            data = _tables(data, path, values.get(path))
        elif path in values:
            data = toml_edit.set_value(data, _keys(path), plain(values[path]), order=form.order)
        else:
            data = toml_edit.delete(data, path)
    return _items(data, items, values, form) if items else data


def _items(
    data: bytes, items: Mapping[tuple[str, str], list[str]], values: Leaves, form: Form
) -> bytes:
    """Items of arrays of tables: new ones of one array at once, then each that is changed."""
    meant: dict[tuple[str, str], Leaves] = {}
    for path, value in values.items():
        if item := _ITEM.fullmatch(path):
            meant.setdefault((item["table"], item["key"]), {})[item["rest"]] = value
    document = tomllib.loads(data.decode("utf-8-sig"))
    held = {
        (table, str(one.get(form.keys[table])))
        for table in {table for table, _ in items}
        for one in document.get(table, [])
    }
    added: dict[str, list[dict[str, Any]]] = {}
    for table, key in items:
        if (table, key) not in held:
            added.setdefault(table, []).append(nested(meant.get((table, key), {}), form))
    for table, new in added.items():
        data = toml_edit.append_items(data, table, new)
    for (table, key), paths in items.items():
        if (table, key) in held:
            data = _item(data, table, key, paths, meant.get((table, key), {}), form)
    return data


def _tables(data: bytes, path: str, value: Value | None) -> bytes:
    """The text with a list of tables that only a newer buildlog can take apart, whole or gone."""
    document = tomllib.loads(data.decode("utf-8-sig"))
    with contextlib.suppress(LookupError):
        value_at(document, _keys(path))
        data = toml_edit.delete(data, path)
    return toml_edit.append_items(data, path, plain(value)) if value is not None else data


def nested(values: Mapping[str, Value], form: Form) -> dict[str, Any]:
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
        level[last] = plain(values[path])
    for (table, _), inner in items.items():
        whole.setdefault(table, []).append(nested(inner, form))
    return whole


def differing(found: Leaves, meant: Leaves) -> list[str]:
    """The paths whose values differ."""
    return [path for path in {*found, *meant} if not same_value(found.get(path), meant.get(path))]


def plain(value: Any) -> Any:
    """A leaf as TOML writes it; a quantity as its author wrote it."""
    if isinstance(value, Quantity):
        return value.text
    if isinstance(value, Tables):
        return list(value.items)
    return [plain(one) for one in value] if isinstance(value, tuple) else value


def _item(
    data: bytes, table: str, key: str, paths: Iterable[str], meant: Leaves, form: Form
) -> bytes:
    """One item that is there: changed where it is, or taken out."""
    prefix = f"{table}[{key}]."
    listed = tomllib.loads(data.decode("utf-8-sig"))[table]
    place = [str(item.get(form.keys[table])) for item in listed].index(key)
    if not meant:
        return _without(data, (table, place))
    for path in paths:
        rest = path.removeprefix(prefix)
        if rest not in meant:
            data = toml_edit.delete(data, f"{table}.{place}.{rest}")
        else:
            keys: tuple[str | int, ...] = (table, place, *rest.split("."))
            data = toml_edit.set_value(data, keys, plain(meant[rest]), order=form.order)
    return data


def _without(data: bytes, item: tuple[str | int, ...]) -> bytes:
    """The text without the lines of one item."""
    text = data.decode("utf-8")
    lines = lines_of(text)
    gone = [one for one in statements(text) if one.path[: len(item)] == item]
    for one in reversed(gone):
        del lines[one.first : one.last]
    return "".join(lines).encode()


def _keys(path: str) -> tuple[str, ...]:
    quoted = _QUOTED.fullmatch(path)
    return (*quoted["table"].split("."), quoted["key"]) if quoted else tuple(path.split("."))
