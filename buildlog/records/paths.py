"""Dotted paths into a record: "fuel.injectors.flow", "work[respray].note".

Items of array tables are named by their key field, so that a path means the same item
in two versions whatever its position. Lists of numbers count as one value.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import difflib
import json
import re
import types
import typing
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any

from pydantic import BaseModel

from buildlog.errors import InvalidInput
from buildlog.findings import how_many
from buildlog.records.days_said import HINT, day_said
from buildlog.records.fields.base import Measure, WholeFile, once, sentences
from buildlog.records.fields.newer import as_text
from buildlog.records.key_words import key_words
from buildlog.units import Quantity, as_written, same

_ITEM = re.compile(r"\[(.*?)\](?=\.|$)")  # an item of an array table, by its name
_SEPARATOR = re.compile(r'\[(.*?)\](?:\.|$)|\.?("[^"]*")|\.')


@dataclass(frozen=True)
class Tables:
    """A list of tables that only a newer buildlog can take apart."""

    said: str  # all that they say, as one text
    items: tuple[dict[str, Any], ...] = dataclasses.field(compare=False, repr=False)

    def __str__(self) -> str:
        return f"{how_many(len(self.items), 'table')} of a newer buildlog"


Value = Quantity | str | int | float | bool | dt.date | dt.time | tuple[Any, ...] | Tables

# The field that names an item of an array table.
KEY_FIELDS: dict[str, str] = {
    "work": "item",
    "odometer_offset": "key",
    "column": "channel",
    "log_column": "channel",
    "pull": "name",
    "log": "name",
    "item": "key",
    "caution": "text",
    "fastener": "position",
    "fastened": "name",
    "stated": "quantity",
    "charge": "what",
    "due": "what",
}


@dataclass(frozen=True)
class Field:
    """What the model says of a path: its table, its type, what it measures, its sentence."""

    path: str
    table: type[BaseModel]
    annotation: Any
    measure: Measure | None

    @property
    def description(self) -> str:
        """What the field means, in one sentence."""
        return sentences(self.table)[self.path.rpartition(".")[2]]


class NamesATable(InvalidInput):
    """A path that names a table where a field was asked for."""


class NewerPath(str):
    """The path of a field that a newer buildlog wrote: nothing here knows what it means."""

    __slots__ = ()


def leaves(record: BaseModel) -> dict[str, Value]:
    """Every value that is given, by path, in the order of the model; defaults are left out.

    What a newer buildlog wrote stands at the end.
    """
    return dict(_leaves(record))


@once
def _leaves(record: BaseModel) -> dict[str, Value]:
    return {**dict(_walk(record, "")), **carried(record)}


def carried(record: BaseModel) -> dict[str, Value]:
    """What a newer buildlog wrote into a file, each by its `NewerPath`."""
    found: dict[str, Value] = {}
    for place, value in record.newer.items() if isinstance(record, WholeFile) else ():
        path, here = "", typing.cast("Any", record)
        for part in place:
            here = here[part] if isinstance(part, int) else getattr(here, part, None)
            if isinstance(part, int):
                path = f"{path}[{getattr(here, KEY_FIELDS[path.rpartition('.')[2]])}]"
            else:
                path = f"{path}.{part}" if path else part
        found.update(_untyped(path, value))
    return found


def _untyped(path: str, value: Any) -> Iterator[tuple[NewerPath, Value]]:
    if isinstance(value, dict):
        for name, inner in value.items():
            yield from _untyped(f"{path}.{name}", inner)
    elif isinstance(value, list) and any(isinstance(one, dict) for one in value):
        yield NewerPath(path), Tables(as_text(value), tuple(value))
    else:
        yield NewerPath(path), _untyped_value(value)


def _untyped_value(value: Any) -> Value:
    if isinstance(value, list):
        return tuple(map(_untyped_value, value))
    return (as_written(value) or value) if isinstance(value, str) else typing.cast("Value", value)


def _walk(record: BaseModel, prefix: str) -> Iterator[tuple[str, Value]]:
    for name, info in type(record).model_fields.items():
        value = getattr(record, name)
        path = f"{prefix}{name}"
        if value is None or value == info.default:  # a default that is written out says no more
            continue
        if isinstance(value, BaseModel):
            yield from _walk(value, f"{path}.")
        elif isinstance(value, dict):
            for key, inner in value.items():
                yield f'{path}."{key}"', tuple(inner) if isinstance(inner, list) else inner
        elif isinstance(value, tuple) and value and isinstance(value[0], BaseModel):
            key_field = KEY_FIELDS[name]
            for item in value:
                yield from _walk(item, f"{path}[{getattr(item, key_field)}].")
        else:
            yield path, value


def same_value(one: Value | None, other: Value | None) -> bool:
    """Whether two values mean the same thing physically."""
    if isinstance(one, Quantity) and isinstance(other, Quantity):
        return same(one, other)
    if isinstance(one, tuple) and isinstance(other, tuple):
        return len(one) == len(other) and all(map(same_value, one, other))
    if isinstance(one, bool) != isinstance(other, bool):
        return False
    return one == other


def differences(old: BaseModel, new: BaseModel) -> list[tuple[str, Value | None, Value | None]]:
    """Paths whose values differ physically, with both values, in the order of the model."""
    before, after = leaves(old), leaves(new)
    order = list(after) + [path for path in before if path not in after]
    tables = {name: index for index, name in enumerate(type(new).model_fields)}
    order.sort(key=lambda path: tables.get(assembly(path), len(tables)))
    return [
        (path, before.get(path), after.get(path))
        for path in order
        if not same_value(before.get(path), after.get(path))
    ]


def assembly(path: str) -> str:
    """The table of the configuration that a path belongs to."""
    return path.split(".", 1)[0].split("[", 1)[0]


def parts(path: str) -> list[str]:
    """The names a path is made of; an item's name and a quoted key may hold full stops.

    >>> parts("work[3.5 in pipe].note"), parts('calibration.written_for."engine.bore"')
    (['work', '3.5 in pipe', 'note'], ['calibration', 'written_for', 'engine.bore'])
    """
    return [part.strip('"') for part in re.split(_SEPARATOR, path) if part]


def words(path: str) -> str:
    """The path below its assembly, as words: "boost target gauge"."""
    found = parts(path)
    return " ".join(part if "." in part else key_words(part) for part in found[1:] or found)


@cache
def fields(model: type[BaseModel], prefix: str = "") -> dict[str, Field]:
    """Every path of plain tables that a model knows (items of arrays are written table[])."""
    out: dict[str, Field] = {}
    for name, info in model.model_fields.items():
        path = f"{prefix}{name}"
        inner = model_in(info.annotation)
        if inner is None:
            out[path] = Field(path, model, info.annotation, _measure(info))
        elif is_many(info.annotation):
            out.update(fields(inner, f"{path}[]."))
        else:
            out.update(fields(inner, f"{path}."))
    return out


def field_at(model: type[BaseModel], path: str) -> Field:
    """What the model says of a path.

    InvalidInput with the nearest known path if it has none, NamesATable if it is a table.
    """
    plain = _ITEM.sub("[]", path)
    if found := _beside(model, plain).get(plain):
        return found
    known = fields(model)
    if any(name.startswith(f"{plain}.") for name in known):
        inside = [name for name in known if name.startswith(f"{plain}.")]
        own_first = ", ".join(sorted(inside, key=lambda name: name.count("."))[:6])
        raise NamesATable(f"{path} is a table", hint=f"name a field of it: {own_first}")
    raise InvalidInput(f"{path} is not a field", hint=nearest(plain, known))


def _beside(model: type[BaseModel], path: str) -> dict[str, Field]:
    """The fields of the table that a path stands in: the whole model need not be walked."""
    here, table = model, path.rpartition(".")[0]
    for name in filter(None, table.split(".")):
        info = here.model_fields.get(name.removesuffix("[]"))
        inner = model_in(info.annotation) if info else None
        if info is None or inner is None or is_many(info.annotation) != name.endswith("[]"):
            return {}
        here = inner
    return fields(here, f"{table}." if table else "")


def nearest(name: str, known: typing.Iterable[str]) -> str:
    """A hint that names what was probably meant."""
    candidates = list(known)
    close = difflib.get_close_matches(name, candidates, n=3, cutoff=0.55)
    last = name.rsplit(".", 1)[-1]
    close += [c for c in candidates if c.rsplit(".", 1)[-1] == last and c not in close][:3]
    if close:
        return f"did you mean {' or '.join(close[:3])}?"
    return f"known: {', '.join(candidates[:12])}" + (", ..." if len(candidates) > 12 else "")


# Units may be typed as screens print them: "284 lb·ft", "0.68 m²".
_AS_PRINTED = str.maketrans({"·": "*", "²": "^2", "³": "^3", "−": "-"})


def toml_value(field: Field, text: str) -> Any:
    """Turn a value typed on the command line into the TOML value that the field wants."""
    if text.startswith("["):
        try:
            return json.loads(text)
        except ValueError:
            raise InvalidInput(
                f"{field.path} is a list that cannot be read", hint="write it as [3.2, 1.9, 1.3]"
            ) from None
    several = re.split(r",\s+", text) if is_many(field.annotation) else [text]
    if field.measure is not None:
        typed = [one.translate(_AS_PRINTED) for one in several]
        return typed if len(several) > 1 else typed[0]
    kinds = _kinds(field.annotation)
    if bool in kinds and text.lower() in {"true", "false", "yes", "no"}:
        return text.lower() in {"true", "yes"}
    if kinds & {int, float} and not (kinds & {str}):
        plain = _plain_number(field, text)
        try:
            if len(several) > 1:
                return [float(_plain_number(field, one)) for one in several]
            return int(plain) if int in kinds else float(plain)
        except ValueError:
            raise InvalidInput(
                f'{field.path} is a plain number, not "{text}"', hint=_bare(text, field)
            ) from None
    if dt.date in kinds and not (kinds & {str}):
        if day := day_said(text):
            return day
        raise InvalidInput(f'{field.path} is a day, not "{text}"', hint=HINT)
    return text


def _plain_number(field: Field, text: str) -> str:
    """A number as screens print it and people say it: "0.86 lambda", "9.5:1", "91 AKI"."""
    plain = text.translate(_AS_PRINTED).strip()
    if field.path == _AKI_FIELD and (pump := _AKI.fullmatch(plain)):
        return pump["before"] or pump["behind"]
    if "lambda" in field.path:
        plain = plain.removesuffix("lambda").strip()
    if field.path.endswith("ratio"):
        plain = re.sub(r"\s*:\s*1$", "", plain)
    return plain


_AKI_FIELD = "fuel.aki"
_AKI = re.compile(
    r"(?:(?P<before>\d+(?:\.\d+)?)\s*(?:AKI|\(R\s*\+\s*M\)\s*/\s*2)"
    r"|(?:AKI|\(R\s*\+\s*M\)\s*/\s*2)\s*(?P<behind>\d+(?:\.\d+)?))",
    re.IGNORECASE,
)


def _bare(text: str, field: Field) -> str:
    """What to write where a plain number was asked for: "70 percent" -> "write 0.7"."""
    pump = _AKI.fullmatch(text.strip())
    if pump and "octane" in field.description.casefold():
        number = pump["before"] or pump["behind"]
        return f"that is octane as a pump states it: buildlog set {_AKI_FIELD}={number}"
    match = re.match(r"(-?\d+(?:[.,]\d+)?)\s*(%|percent)?", text)
    if match is None:
        return f"write a number ({field.description.rstrip('.').lower()})"
    if match.group() == text and float not in _kinds(field.annotation):
        return "write a whole number"
    number = float(match.group(1).replace(",", "."))
    return f"write {number / 100 if match.group(2) else number:g}, without a unit"


def _arguments(annotation: Any) -> Iterator[Any]:
    """The annotation and everything it is made of."""
    yield annotation
    for inner in typing.get_args(annotation):
        if isinstance(inner, type) or typing.get_origin(inner) is not None:
            yield from _arguments(inner)


def model_in(annotation: Any) -> type[BaseModel] | None:
    """The model of a table, or of the items of an array; None for a plain value."""
    for part in _arguments(annotation):
        plain = isinstance(part, type) and not isinstance(part, types.GenericAlias)
        if plain and issubclass(part, BaseModel):
            return typing.cast("type[BaseModel]", part)
    return None


def is_many(annotation: Any) -> bool:
    """Whether a field holds a list."""
    return any(typing.get_origin(part) is tuple for part in _arguments(annotation))


def _kinds(annotation: Any) -> set[type]:
    return {
        part
        for part in _arguments(annotation)
        if isinstance(part, type) and not isinstance(part, types.GenericAlias)
    }


def _measure(info: Any) -> Measure | None:
    return next((found for found in metadata_of(info) if isinstance(found, Measure)), None)


def metadata_of(info: Any) -> Iterator[Any]:
    """Everything that stands in the `Annotated` of a field, wherever in its type."""
    yield from info.metadata
    yield from _metadata(info.annotation)


def _metadata(annotation: Any) -> Iterator[Any]:
    yield from getattr(annotation, "__metadata__", ())
    for inner in typing.get_args(annotation):
        yield from _metadata(inner)
