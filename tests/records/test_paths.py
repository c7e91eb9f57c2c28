"""Dotted paths: what they name, what was probably meant, what a typed value becomes."""

from __future__ import annotations

import datetime as dt
import tomllib

import pytest
from hypothesis import given, settings

from buildlog.errors import InvalidInput
from buildlog.records.car.configuration import Configuration
from buildlog.records.paths import (
    assembly,
    differences,
    field_at,
    fields,
    leaves,
    nearest,
    same_value,
    toml_value,
    words,
)
from buildlog.records.session import Session
from buildlog.records.toml.toml_text import nearest_place, places
from buildlog.units import parse
from tests.builders import CAR, make_configuration
from tests.documents import documents, leaves_of
from tests.documents import get as got


def test_leaves_name_items_by_their_key() -> None:
    found = leaves(make_configuration())
    assert found["work[respray].note"] == "front wings"
    assert found["gearbox.ratios"] == (3.3, 2.0, 1.3, 1.0, 0.8)
    assert str(found["engine.bore"]) == "84.0 mm"
    assert "engine.displacement" not in found


@settings(max_examples=80)
@given(documents())
def test_leaves_are_what_the_document_gives(document) -> None:  # type: ignore[no-untyped-def]
    found = leaves(Configuration.model_validate(document))
    given_paths = {path for path in leaves_of("car") if got(document, path) is not None}
    assert given_paths - set(found) <= {"car.vehicle"}  # its default says nothing
    assert set(found) <= given_paths


def test_the_schema_and_the_paths_know_the_same_fields() -> None:
    plain = {path for path in fields(Configuration) if "[]" not in path}
    assert plain - set(leaves_of("car")) == {"calibration.written_for"}
    assert set(leaves_of("car")) <= plain


@pytest.mark.parametrize("model", [Configuration, Session])
def test_every_field_has_one_sentence(model) -> None:  # type: ignore[no-untyped-def]
    for path, field in fields(model).items():
        assert field.description.endswith("."), path
        assert field.description[0].isupper(), path


@pytest.mark.parametrize(
    ("path", "name", "said"),
    [
        ("engine.bore", "engine", "bore"),
        ("induction.boost.target_gauge", "induction", "boost target gauge"),
        ("work[3.5 in pipe].note", "work", "3.5 in pipe note"),
        ('calibration.written_for."engine.bore"', "calibration", "written for engine.bore"),
        ("format", "format", "format"),
    ],
)
def test_assembly_and_words(path: str, name: str, said: str) -> None:
    assert assembly(path) == name
    assert words(path) == said


def test_field_at_knows_items_of_lists() -> None:
    assert field_at(Configuration, "work[respray].note").path == "work[].note"
    assert field_at(Configuration, "engine.bore").measure is not None


@pytest.mark.parametrize(
    ("path", "what", "hint"),
    [
        ("engine.boer", "engine.boer is not a field", "engine.bore"),
        ("engien.bore", "engien.bore is not a field", "engine.bore"),
        ("bore", "bore is not a field", "engine.bore"),
        ("fuel.injectors", "fuel.injectors is a table", "fuel.injectors.flow"),
        ("", " is not a field", "known: "),
    ],
)
def test_an_unknown_path_names_the_nearest(path: str, what: str, hint: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        field_at(Configuration, path)
    assert refused.value.what == what
    assert hint in (refused.value.hint or "")


def test_nearest_says_what_is_known_where_nothing_is_near() -> None:
    assert nearest("zzz", ["bore", "stroke"]) == "known: bore, stroke"


@pytest.mark.parametrize(
    ("path", "text", "value"),
    [
        ("engine.bore", "84 mm", "84 mm"),
        ("engine.cylinders", "6", 6),
        ("engine.compression_ratio", "9.2", 9.2),
        ("fuel.ron", "95", 95.0),
        ("engine.knock_control", "yes", True),
        ("engine.knock_control", "false", False),
        ("engine.part.fitted_on", "2026-03-14", dt.date(2026, 3, 14)),
        ("gearbox.ratios", "[3.3, 2.0]", [3.3, 2.0]),
        ("gearbox.ratios", "3.3, 2.0", [3.3, 2.0]),
        ("induction.compressor.surge_flows", "0.03 kg/s, 0.05 kg/s", ["0.03 kg/s", "0.05 kg/s"]),
        ("engine.note", "one, two", "one, two"),
        ("engine.code", "2026", "2026"),
        ("tyres.size", "205/55 R16", "205/55 R16"),
    ],
)
def test_a_typed_value_becomes_what_the_field_wants(path: str, text: str, value: object) -> None:
    assert toml_value(field_at(Configuration, path), text) == value


@pytest.mark.parametrize(
    ("path", "text", "what"),
    [
        ("engine.cylinders", "six", 'engine.cylinders is a plain number, not "six"'),
        ("engine.cylinders", "6.5", 'engine.cylinders is a plain number, not "6.5"'),
        ("engine.part.fitted_on", "14.3.26", 'engine.part.fitted_on is a day, not "14.3.26"'),
        ("gearbox.ratios", "[3.3; 2.0]", "gearbox.ratios is a list that cannot be read"),
    ],
)
def test_a_typed_value_that_does_not_fit(path: str, text: str, what: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        toml_value(field_at(Configuration, path), text)
    assert refused.value.what == what
    assert refused.value.hint


def test_sameness_of_values() -> None:
    mm, inch = parse("90.2 mm", ("length",)), parse("3.551 in", ("length",))
    assert same_value(mm, inch)
    assert same_value((mm, 1), (inch, 1.0))
    assert not same_value((mm,), (inch, inch))
    assert not same_value(True, 1)
    assert not same_value(None, 0)
    assert same_value(9, 9.0)


def test_differences_come_in_the_order_of_the_file() -> None:
    new = make_configuration({"tyres.pressure": "2.4 bar", "chassis.mass": "1400 kg"})
    assert [d[0] for d in differences(make_configuration(), new)] == [
        "chassis.mass", "tyres.pressure",
    ]  # fmt: skip
    assert CAR["chassis"]["mass"] == "1385 kg"


PLACES = """\
format = 1
# [comment] = 3
[car]
name = "x # [y]"   # z = 1
"quoted key" = 1
a.b = 2
text = \"\"\"
[not]
a = 1
\"\"\"
list = [
  1, # ]
  "]",
]
[[work]]
item = "a"
[work.part]
number = '1'
[[work]]
item = "b"
  [work.part]
  number = '2'
"""


def test_places_of_keys_tables_and_items() -> None:
    tomllib.loads(PLACES)
    found = places(PLACES)
    assert found["format",] == (1, 10)
    assert found["car",] == (3, 1)
    assert found["car", "name"] == (4, 8)
    assert found["car", "quoted key"] == (5, 16)
    assert found["car", "a", "b"] == (6, 7)
    assert found["car", "list"] == (11, 8)
    assert found["work", 0] == (15, 1)
    assert found["work", 0, "part", "number"] == (18, 10)
    assert found["work", 1, "item"] == (20, 8)
    assert found["work", 1, "part"] == (21, 3)
    assert found["work", 1, "part", "number"] == (22, 12)
    assert ("not",) not in found
    assert nearest_place(found, ("work", 1, "part", "serial")) == (21, 3)
    assert nearest_place(found, ("nowhere",)) is None
