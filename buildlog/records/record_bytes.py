"""Records that were found valid before, put together again without being judged anew.

Compiling the rules of a file costs more than everything else a short command does. A record that
passed them is kept as plain values and comes back as an equal record, whatever it is kept in.
"""

from __future__ import annotations

import datetime as dt
import types
import typing
from collections.abc import Callable, Mapping
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any, TypeVar

from buildlog.records.fields.base import Measure, Record
from buildlog.units import parse

R = TypeVar("R", bound=Record)
Maker = Callable[[Any], Any]
_PLAIN = (str, int, float, bool)


def plain(record: Record) -> dict[str, Any]:
    """The values that were given, as JSON has them."""
    return record.model_dump(mode="json", exclude_unset=True)


def put_together(model: type[R], values: Mapping[str, Any]) -> R:
    """The record that `plain` was made of; any error if the values are not of that model."""
    makers = _makers(model)
    return model.model_construct(**{name: makers[name](value) for name, value in values.items()})


@cache
def rules() -> str:
    """Which rules the records passed: with the models or the units changed, it is another text."""
    here = Path(__file__).parent
    beside = here.parent
    files = [*sorted(here.rglob("*.py")), beside / "units.py", *sorted(beside.glob("*.tsv"))]
    return sha256(b"\0".join(file.read_bytes() for file in files)).hexdigest()[:16]


@cache
def _makers(model: type[Record]) -> dict[str, Maker]:
    return {
        name: _maker(info.annotation, tuple(info.metadata))
        for name, info in model.model_fields.items()
    }


def _maker(annotation: Any, metadata: tuple[Any, ...] = ()) -> Maker:
    """What makes a field's value from its plain form."""
    for note in metadata:
        if isinstance(note, Measure):
            return lambda text: parse(text, note.names, note.place)
    origin, inner = typing.get_origin(annotation), typing.get_args(annotation)
    if origin is typing.Annotated:
        return _maker(inner[0], inner[1:])
    if origin in (typing.Union, types.UnionType):
        return _of_union([each for each in inner if each is not types.NoneType])
    if origin is tuple:
        return _of_tuple(inner)
    if isinstance(annotation, type) and issubclass(annotation, Record):
        return lambda values: put_together(annotation, values)
    if annotation in (dt.date, dt.time):
        made: Maker = annotation.fromisoformat
        return made
    if annotation in _PLAIN or origin in (typing.Literal, dict):
        return _same
    raise TypeError(f"{annotation} has no plain form")


def _of_union(kinds: list[Any]) -> Maker:
    if set(kinds) == {dt.datetime, dt.date}:
        return _moment
    makers = [_maker(kind) for kind in kinds]
    if len(makers) > 1 and any(maker is not _same for maker in makers):
        raise TypeError(f"which of {kinds} a plain value was cannot be told")
    return makers[0]


def _of_tuple(inner: tuple[Any, ...]) -> Maker:
    if inner[-1] is Ellipsis:
        each = _maker(inner[0])
        return lambda values: tuple(each(value) for value in values)
    makers = [_maker(kind) for kind in inner]
    return lambda values: tuple(m(value) for m, value in zip(makers, values, strict=True))


def _moment(text: str) -> dt.date:
    return dt.datetime.fromisoformat(text) if "T" in text else dt.date.fromisoformat(text)


def _same(value: Any) -> Any:
    return value
