"""Merged fields applied to the text of car.toml, comments and order kept."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from typing import Any

from buildlog.desk.acts.editing import order
from buildlog.errors import InvalidInput
from buildlog.records.configuration import Configuration
from buildlog.records.paths import KEY_FIELDS, Value, leaves, same_value
from buildlog.records.reading import read
from buildlog.records.toml import toml_edit
from buildlog.units import Quantity

_ITEM = re.compile(r"(?P<table>\w+)\[(?P<key>.*)\]\.(?P<rest>[\w.]+)")
_QUOTED = re.compile(r'(?P<table>[\w.]+)\."(?P<key>[^"]+)"')


def with_changes(data: bytes, taken: Mapping[str, Value | None]) -> bytes:
    """The text with these leaves set (None: removed); InvalidInput if that is no valid car."""
    before = leaves(read(Configuration, data, "car.toml"))
    meant = {path: value for path, value in before.items() if path not in taken}
    meant |= {path: value for path, value in taken.items() if value is not None}
    items: dict[tuple[str, str], dict[str, Value | None]] = {}
    for path, value in taken.items():
        item = _ITEM.fullmatch(path)
        if item:
            items.setdefault((item["table"], item["key"]), {})[item["rest"]] = value
        else:
            data = _plain(data, path, value)
    for (table, key), fields in items.items():
        data = _item(data, table, key, fields)
    _check(data, meant)
    return data


def _plain(data: bytes, path: str, value: Value | None) -> bytes:
    quoted = _QUOTED.fullmatch(path)
    keys = (*quoted["table"].split("."), quoted["key"]) if quoted else tuple(path.split("."))
    if value is None:
        return toml_edit.delete(data, path)
    return toml_edit.set_value(data, keys, toml_of(value), order=order())


def _item(data: bytes, table: str, key: str, fields: Mapping[str, Value | None]) -> bytes:
    """One item of an array of tables: changed where it is, or added; never taken out."""
    listed = tomllib.loads(data.decode("utf-8-sig")).get(table, [])
    names = [str(item.get(KEY_FIELDS[table])) for item in listed]
    if key not in names:
        deep = [rest for rest in fields if "." in rest]
        if deep:
            raise InvalidInput(
                f"{table} {key} has tables of its own ({deep[0]})",
                hint="add it in car.toml by hand",
            )
        whole = {rest: toml_of(value) for rest, value in fields.items() if value is not None}
        return toml_edit.append_item(data, table, whole)
    for rest, value in fields.items():
        if value is None:
            raise InvalidInput(
                f"the plan takes {table} {key} {rest} out", hint="take it out of car.toml by hand"
            )
        place: tuple[str | int, ...] = (table, names.index(key), *rest.split("."))
        data = toml_edit.set_value(data, place, toml_of(value), order=order())
    return data


def toml_of(value: Value) -> Any:
    """A leaf as TOML writes it; a quantity as its author wrote it."""
    if isinstance(value, Quantity):
        return value.text
    return [toml_of(one) for one in value] if isinstance(value, tuple) else value


def _check(data: bytes, meant: Mapping[str, Value]) -> None:
    found = leaves(read(Configuration, data, "car.toml"))
    wrong = [p for p in {*found, *meant} if not same_value(found.get(p), meant.get(p))]
    if wrong:
        raise InvalidInput(
            f"car.toml cannot be edited to hold {min(wrong)} as merged",
            hint="set it with `buildlog set`, then adopt again",
        )
