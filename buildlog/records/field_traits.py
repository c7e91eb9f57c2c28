"""The traits of a field at a path, read from the models when somebody asks for them."""

from __future__ import annotations

import re
from functools import cache
from typing import TypeVar

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from buildlog.records.checked_paths import FieldPath, field, info_of, owner_of
from buildlog.records.fields.traits import UNMODELLED, Here, Label, Moves
from buildlog.records.paths import NewerPath, metadata_of

T = TypeVar("T")
_ITEM = re.compile(r"\[.*\]", re.DOTALL)  # whatever the item is called
_KEY = re.compile(r'\.".*"$', re.DOTALL)


def moves(path: str) -> Moves:
    """What a change of a field of car.toml moves, by its path as differences have it.

    Where its table is mounted may say it, else the field itself, else its class for all its
    fields. LookupError for no such field and for one of which nothing is said. What a newer
    buildlog wrote may move the needle, and no formula follows it.
    """
    return UNMODELLED if isinstance(path, NewerPath) else _moves(path)


@cache
def _moves(path: str) -> Moves:
    known = field(_ITEM.sub("[]", path) if "[" in path.split('"')[0] else _KEY.sub("", path))
    model, name = owner_of(known), known.rpartition(".")[2]
    said = (_here(known, name), _first(info_of(known), Moves), _of_class(model, name))
    found = next((one for one in said if one is not None), None)
    if found is None:
        raise LookupError(f"nothing says what {known} moves")
    return found


def label(path: FieldPath) -> str:
    """How a screen calls a field; LookupError if it has no label."""
    found = _first(info_of(path), Label)
    if found is None:
        raise LookupError(f"{path} has no label")
    return found


def _here(path: FieldPath, name: str) -> Moves | None:
    """What is said of a field where its table is mounted."""
    if "." not in path:
        return None
    here = _first(info_of(path.table), Here)
    return here.moves.get(name) if here else None


def _of_class(model: type[BaseModel], name: str) -> Moves | None:
    """What the class that declares a field says of all its own fields."""
    owner = next(one for one in model.__mro__ if name in vars(one).get("__annotations__", {}))
    found: Moves | None = vars(owner).get("fields_move")
    return found


def _first(info: FieldInfo, kind: type[T]) -> T | None:
    return next((found for found in metadata_of(info) if isinstance(found, kind)), None)
