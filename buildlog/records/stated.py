"""Values that name a field of car.toml by its path: `written_for`, the quick trial of a pull."""

from __future__ import annotations

from collections.abc import Mapping

from pydantic_core import PydanticCustomError

from buildlog.errors import InvalidInput
from buildlog.records.car.configuration import Configuration
from buildlog.records.paths import Value, field_at


def read_stated(path: str, given: object) -> Value | None:
    """A value in the type of its field; None where path or value cannot be read."""
    try:
        measure = field_at(Configuration, path).measure
        if isinstance(given, list | tuple):
            return tuple(measure.read(one) if measure else one for one in given)
        return measure.read(given) if measure else given  # type: ignore[return-value]
    except (InvalidInput, PydanticCustomError):
        return None


def read_all_stated(values: Mapping[str, object]) -> dict[str, Value]:
    """All that can be read; the rest is named by the plausibility check."""
    read = {path: read_stated(path, given) for path, given in values.items()}
    return {path: value for path, value in read.items() if value is not None}
