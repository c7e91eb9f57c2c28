"""Assignments typed on the command line, applied to the text of car.toml."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from contextlib import suppress

from buildlog.errors import InvalidInput, UsageError
from buildlog.records.checked_paths import field
from buildlog.records.configuration import Configuration
from buildlog.records.paths import NamesATable, field_at, toml_value
from buildlog.records.reading import load
from buildlog.records.toml import toml_edit
from buildlog.records.toml.toml_read import parse_toml

_WRITTEN_FOR = field("calibration.written_for")


def apply(data: bytes, assignments: Iterable[str]) -> bytes:
    """The text with every assignment made; InvalidInput if the result is not valid."""
    parse_toml(data, "car.toml")
    earlier = {finding.paths: finding for finding in load(Configuration, data, "car.toml")[1]}
    for assignment in assignments:
        path, value = split(assignment)
        data = _remove(data, path) if value == "" else _set(data, path, value)
    _, findings = load(Configuration, data, "car.toml")
    errors = [finding for finding in findings if finding.severity == "error"]
    if errors:
        worst = errors[0]
        before = earlier.get(worst.paths)
        raise InvalidInput(
            worst.text,
            where=before.where if before else None,
            why=f"nothing was changed: {'it stood there before' if before else 'it does not fit'}",
            hint=worst.hint,
        )
    return data


def split(assignment: str) -> tuple[str, str]:
    """PATH=VALUE at the first equals sign outside quotes; blanks around them do not count."""
    inside = False
    for index, character in enumerate(assignment):
        if character == '"':
            inside = not inside
        elif character == "=" and not inside:
            value = assignment[index + 1 :].strip()
            if len(value) > 1 and value[0] == value[-1] == '"':
                value = value[1:-1]
            return assignment[:index].strip(), value
    raise UsageError(
        f'"{assignment}" is not PATH=VALUE', hint='buildlog set fuel.injectors.flow="550 cc/min"'
    )


def order() -> Sequence[str]:
    """The tables of car.toml in the order in which they stand."""
    return tuple(Configuration.model_fields)


def _set(data: bytes, path: str, value: str) -> bytes:
    if path.startswith(f"{_WRITTEN_FOR}."):
        named = path.removeprefix(f"{_WRITTEN_FOR}.").strip('"')
        asked = field_at(Configuration, named)
        key = (*_WRITTEN_FOR.split("."), named)
        return toml_edit.set_value(data, key, toml_value(asked, value), order=order())
    asked = field_at(Configuration, path)
    if "[]" in asked.path:
        raise UsageError(
            f"{path} belongs to a list of tables",
            hint="buildlog work add, or edit car.toml",
        )
    return toml_edit.set_value(
        data, tuple(path.split(".")), toml_value(asked, value), order=order()
    )


def _remove(data: bytes, path: str) -> bytes:
    if not path.startswith(_WRITTEN_FOR):
        with suppress(NamesATable):  # a whole table can be taken out as well
            field_at(Configuration, path)
    return toml_edit.delete(data, path)
