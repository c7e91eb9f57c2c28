"""TOML text to record: every error at once, each with its place and what to write."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from buildlog.errors import InvalidInput
from buildlog.findings import Finding
from buildlog.records.fields import newer
from buildlog.records.fields.base import FORMAT, Record, WholeFile, sentences
from buildlog.records.paths import KEY_FIELDS, model_in, nearest
from buildlog.records.toml.toml_read import decode, parse_toml
from buildlog.records.toml.toml_text import Path, Place, nearest_place, places

R = TypeVar("R", bound=Record)
_MOST_LEFT_OUT = 30  # rounds in which what cannot be read of a newer format is left out

# pydantic's words for a number out of bounds: its key for the limit, what is wrong, what is right
_BOUNDS = {
    "greater_than": ("gt", "it is above {} in any car", "a number above {}"),
    "greater_than_equal": ("ge", "the lowest accepted is {}", "{} or more"),
    "less_than": ("lt", "it is below {} in any car", "a number below {}"),
    "less_than_equal": ("le", "the highest accepted is {}", "{} or less"),
}


def load(model: type[R], data: bytes, name: str) -> tuple[R | None, list[Finding]]:
    """The record and what is wrong with it; None where an error stands in the way."""
    values = parse_toml(data, name)
    if (newest := values.get("format")) and type(newest) is int and newest > FORMAT:
        return _of_newer_format(model, values, data, name), []
    try:
        record = _validated(model, values)
    except ValidationError as error:
        found = places(decode(data, name))
        return None, [_finding(item, model, values, found, name, data) for item in _distinct(error)]
    return record, list(_doubled(record, data, name))


def _validated(model: type[R], values: dict[str, Any]) -> R:
    """The record, with what a newer buildlog wrote set aside; ValidationError for all else."""
    try:
        return model.model_validate(values)
    except ValidationError as error:
        rest, carried = newer.apart(model.__name__, values, _unknown(error, values))
        if not carried:
            raise
    return _carrying(model.model_validate(rest), carried)


def _carrying(record: R, carried: dict[Path, Any]) -> R:
    if isinstance(record, WholeFile):
        record.newer.update(carried)
    return record


def _unknown(error: ValidationError, values: Any) -> list[Path]:
    return [
        _real_path(item["loc"], values)
        for item in _distinct(error)
        if item["type"] == "extra_forbidden"
    ]


def _of_newer_format(model: type[R], values: dict[str, Any], data: bytes, name: str) -> R:
    """As much of a file of a newer format as this program can read, all of it held for unknown;
    InvalidInput unless an entry of a newer buildlog has this very file."""
    rest = {**values, "format": FORMAT}
    for _ in range(_MOST_LEFT_OUT if newer.holds_file(model.__name__, data) else 0):
        try:
            carried: dict[Path, Any] = {(key,): values[key] for key in values if key != "format"}
            return _carrying(model.model_validate(rest), carried)
        except ValidationError as error:
            wrong = {_standing(_real_path(item["loc"], rest), rest) for item in _distinct(error)}
            if () in wrong:
                break
            rest = newer.without(rest, [one for one in wrong if not _inside(one, wrong)])
    raise InvalidInput(
        f"the file is of format {values['format']}; this program reads up to {FORMAT}",
        where=name,
        hint="update buildlog",
    )


def _standing(path: Path, values: Any) -> Path:
    """A path, or the table around what is missing there."""
    try:
        newer.value_at(values, path)
    except LookupError:
        return path[:-1]
    return path


def _inside(path: Path, others: set[Path]) -> bool:
    return any(path[:length] in others for length in range(len(path)))


def read(model: type[R], data: bytes, name: str) -> R:
    """The record; InvalidInput with the first error if it is not valid."""
    record, findings = load(model, data, name)
    errors = [finding for finding in findings if finding.severity == "error"]
    if record is None or errors:
        first = errors[0]
        more = f" (and {len(errors) - 1} more)" if len(errors) > 1 else ""
        raise InvalidInput(first.text + more, where=first.where, hint=first.hint)
    return record


def _distinct(error: ValidationError) -> Iterable[Any]:
    seen: set[tuple[Any, ...]] = set()
    for item in error.errors(include_url=False):
        if item["loc"] not in seen:
            seen.add(item["loc"])
            yield item


def _finding(
    item: Any, model: type[BaseModel], values: Any, found: dict[Path, Place], name: str,
    data: bytes,
) -> Finding:  # fmt: skip
    loc = _real_path(item["loc"], values)
    place = nearest_place(found, loc)
    where = f"{name}, line {place[0]}, column {place[1]}" if place else name
    dotted = _dotted(loc)
    text, hint = _sentence(item, model, loc, dotted)
    if newer.holds_file(model.__name__, data):
        hint = "a newer buildlog wrote it: update buildlog"
    return Finding("invalid", "error", text, (dotted,), where, hint or None)


def _real_path(loc: tuple[str | int, ...], values: Any) -> Path:
    """The part of pydantic's location that exists in the file (unions add names of types)."""
    path: Path = ()
    here = values
    for index, part in enumerate(loc):
        if isinstance(here, dict) and (part in here or index == len(loc) - 1):
            here = here.get(part)
        elif isinstance(here, list) and isinstance(part, int) and part < len(here):
            here = here[part]
        elif not isinstance(here, dict | list):
            break
        path = (*path, part)
    return path


def _dotted(loc: Path) -> str:
    out = ""
    for part in loc:
        out += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if out else str(part)
    return out


def _sentence(item: Any, model: type[BaseModel], loc: Path, dotted: str) -> tuple[str, str]:
    kind, context = item["type"], item.get("ctx") or {}
    given = item.get("input")
    if kind == "extra_forbidden":
        table = _table(model, loc[:-1])
        known = list(table.model_fields) if table else []
        return f"{dotted} is not a known field", nearest(str(loc[-1]), known)
    if kind == "missing":
        return f"{dotted} is missing", _description(model, loc)
    if kind in {"quantity", "bounds", "text", "channel", "written_for"}:
        return f"{dotted}: {item['msg']}", str(context.get("hint", ""))
    if kind == "literal_error":
        choices = [choice.strip(" '") for choice in re.split(r",| or ", context["expected"])]
        return f"{dotted} is {_shown(given)}, which it cannot be", _choice(given, choices)
    if kind == "date_type":
        return f"{dotted} is {_shown(given)}, not a day", "write the day without quotes: 2026-03-14"
    if kind in _BOUNDS and isinstance(given, int | float):
        limit = f"{context[_BOUNDS[kind][0]]:g}"
        wrong, right = (words.format(limit) for words in _BOUNDS[kind][1:])
        return f"{dotted} is {given:g}; {wrong}", f"write {right}: {_description(model, loc)}"
    if kind == "string_pattern_mismatch":
        return f"{dotted} is {_shown(given)}, which it cannot be", _description(model, loc)
    message = item["msg"].replace("Input should", "it should").replace("Value error, ", "")
    return f"{dotted} is {_shown(given)}; {message}", _description(model, loc)


def _choice(given: Any, choices: list[str]) -> str:
    return nearest(str(given), choices) if len(choices) > 6 else f"write {', '.join(choices)}"


def _shown(value: Any) -> str:
    text = f'"{value}"' if isinstance(value, str) else str(value)
    text = {"True": "true", "False": "false"}.get(text, text)
    return text if len(text) <= 60 else text[:57] + "..."


def _table(model: type[BaseModel], loc: Path) -> type[BaseModel] | None:
    here: type[BaseModel] | None = model
    for part in loc:
        if isinstance(part, int):
            continue
        info = here.model_fields.get(part) if here else None
        here = model_in(info.annotation) if info else None
    return here


def _description(model: type[BaseModel], loc: Path) -> str:
    table = _table(model, loc[:-1]) if loc else None
    return sentences(table).get(str(loc[-1]), "") if table else ""


def _doubled(record: BaseModel, data: bytes, name: str) -> Iterable[Finding]:
    """Two items of one array that go by one name; the place is that of the second."""
    for field in type(record).model_fields:
        value = getattr(record, field)
        if not (isinstance(value, tuple) and value and isinstance(value[0], BaseModel)):
            continue
        if field == "stated":
            continue
        seen: set[object] = set()
        held: dict[Path, Place] = {}
        for index, key in enumerate(getattr(item, KEY_FIELDS[field]) for item in value):
            if key not in seen:
                seen.add(key)
                continue
            held = held or places(decode(data, name))
            place = nearest_place(held, (field, index))
            yield Finding(
                "doubled",
                "error",
                f'two [[{field}]] items are called "{key}"',
                (f"{field}[{key}]",),
                f"{name}, line {place[0]}, column {place[1]}" if place else name,
                "give each its own name",
            )
