"""Paths that the model is known to have: a slip of the pen fails when the module is imported.

    _FLOW = field("fuel.pump.flow")             # at the top of a module, never inside a function
    value_at(configuration, _FLOW)              # a plain str is refused by mypy

A path is text, so it looks up `leaves`, equals the path of a change and is shown as it is.
"""

from __future__ import annotations

from functools import cache
from typing import cast

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from buildlog.records.car.configuration import Configuration
from buildlog.records.paths import Value, is_many, model_in, nearest


class FieldPath(str):
    """The path of a field: "fuel.pump.flow"."""

    model: type[BaseModel]

    @property
    def table(self) -> TablePath:
        """The table the field stands in; LookupError for a field at the top of a file."""
        return table(self.rpartition(".")[0], self.model)


class TablePath(str):
    """The path of a table: "fuel.pump"."""

    model: type[BaseModel]

    @property
    def above(self) -> TablePath | None:
        """The table around it; None at the top of a file."""
        outer = self.rpartition(".")[0]
        return table(outer, self.model) if outer else None

    def field(self, name: str) -> FieldPath:
        """A field of this table: "limit.value"; LookupError if its model has none of that name."""
        return field(f"{self}.{name}", self.model)


@cache
def field(path: str, model: type[BaseModel] = Configuration) -> FieldPath:
    """The path of a field of car.toml, or of another model; LookupError if it has no such field.

    Fields of the items of an array table are written as `work[].note`.
    """
    if _inside(path, model) is not None:
        raise LookupError(f"{path} is a table, not a field")
    found = FieldPath(path)
    found.model = model
    return found


@cache
def table(path: str, model: type[BaseModel] = Configuration) -> TablePath:
    """The path of a table of car.toml, or of another model; LookupError if it has none."""
    if _inside(path, model) is None:
        raise LookupError(f"{path} is a field, not a table")
    found = TablePath(path)
    found.model = model
    return found


def field_paths(*paths: str, model: type[BaseModel] = Configuration) -> tuple[FieldPath, ...]:
    """The paths of several fields; LookupError if the model lacks one of them."""
    return tuple(field(path, model) for path in paths)


def session_field(path: str) -> FieldPath:
    """The path of a field of session.toml; LookupError if it has no such field."""
    from buildlog.records.session import Session

    return field(path, Session)


def of_session(path: str) -> str:
    """How a finding names a field or table of session.toml: "session.pull.keep" of `pull[].keep`;
    LookupError if it has none of that name."""
    from buildlog.records.session import Session

    _inside(path, Session)
    return f"session.{path.replace('[]', '')}"


def owner_of(path: FieldPath | TablePath) -> type[BaseModel]:
    """The model that a field or table stands in."""
    outer = path.rpartition(".")[0]
    return (_inside(outer, path.model) if outer else None) or path.model


def info_of(path: FieldPath | TablePath) -> FieldInfo:
    """What the model says of a field or table."""
    return owner_of(path).model_fields[path.rpartition(".")[2].removesuffix("[]")]


def value_at(record: BaseModel, path: FieldPath) -> Value | None:
    """The value of a field of plain tables; None where it is not given."""
    return cast("Value | None", _at(record, path))


def has_table(record: BaseModel, path: TablePath) -> bool:
    """Whether a table is given."""
    return _at(record, path) is not None


def _at(record: BaseModel, path: str) -> object:
    here: object = record
    for name in path.split("."):
        if here is None:
            return None
        here = getattr(here, name)
    return here


@cache
def _inside(path: str, model: type[BaseModel]) -> type[BaseModel] | None:
    """The model of a table, None for a field; LookupError where there is neither."""
    outer, _, name = path.rpartition(".")
    around = _inside(outer, model) if outer else model
    known = around.model_fields if around else {}
    info = known.get(name.removesuffix("[]"))
    inner = model_in(info.annotation) if info else None
    items = inner is not None and info is not None and is_many(info.annotation)
    if info is None or items != name.endswith("[]"):
        raise LookupError(f"{outer or model.__name__} has no {name}; {nearest(name, known)}")
    return inner
