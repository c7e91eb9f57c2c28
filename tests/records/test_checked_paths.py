"""Paths that are checked when a module is imported."""

from __future__ import annotations

from types import ModuleType

import pytest

from buildlog.records.car.configuration import Configuration
from buildlog.records.checked_paths import TablePath, field, has_table, table, value_at
from buildlog.records.paths import fields
from buildlog.records.session import Session
from tests.builders import make_configuration


def imported(text: str) -> ModuleType:
    """A module of that text, carried out as an import does it."""
    module = ModuleType("planted")
    exec(compile(text, "planted.py", "exec"), module.__dict__)
    return module


PLANTED = """
from buildlog.records.checked_paths import field, table
FLOW = field("{path}")
"""


def test_a_wrong_path_fails_at_the_import() -> None:
    assert imported(PLANTED.format(path="fuel.pump.flow")).FLOW == "fuel.pump.flow"
    with pytest.raises(LookupError, match=r"fuel\.pump has no flwo; did you mean flow"):
        imported(PLANTED.format(path="fuel.pump.flwo"))


@pytest.mark.parametrize("model", [Configuration, Session])
def test_every_field_has_a_path_and_a_path_below_it_is_refused(model: type) -> None:
    for path in fields(model):
        assert field(path, model) == path
        for wrong in (f"{path}x", f"{path}.kind", f"x{path}"):
            with pytest.raises(LookupError):
                field(wrong, model)


def test_a_table_is_no_field_and_a_field_no_table() -> None:
    with pytest.raises(LookupError, match="a table, not a field"):
        field("fuel.pump")
    with pytest.raises(LookupError, match="a field, not a table"):
        table("fuel.pump.flow")
    with pytest.raises(LookupError, match="no work"):
        field("work.note")  # an array: its items are work[]
    assert field("work[].note") == "work[].note"


def test_tables_lead_to_their_fields_and_to_the_table_above() -> None:
    pump = field("fuel.pump.flow").table
    assert pump == table("fuel.pump")
    assert isinstance(pump, TablePath)
    assert pump.field("limit.value") == "fuel.pump.limit.value"
    assert pump.above == "fuel"
    assert table("fuel").above is None
    with pytest.raises(LookupError):
        pump.field("limit.values")
    with pytest.raises(LookupError):
        table("engine.limit").field("limit.value")


def test_values_are_read_at_a_checked_path() -> None:
    car = make_configuration()
    assert car.engine is not None
    assert value_at(car, field("engine.bore")) is car.engine.bore
    assert value_at(car, field("engine.displacement")) is None
    assert has_table(car, table("engine"))
    assert not has_table(car, table("motor"))
