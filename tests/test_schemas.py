"""The published JSON Schemas are the models: they accept and refuse the same files."""

from __future__ import annotations

import json
import tomllib
from functools import cache
from typing import Any

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from buildlog.records.reading import load
from buildlog.records.schema import MODELS
from buildlog.report.as_json.json_schema import schema_text
from tests import generate_schemas
from tests.builders import CAR, SESSION
from tests.documents import documents, json_form, leaves_of, put, values

DEMO = generate_schemas.TARGET.parents[1] / "demo_vehicle" / "files"
FOLDERS = {"checks": "check", "torque": "torque", "faults": "fault", "dyno": "session",
           "due": "due", "attachments": "caption"}  # fmt: skip

# False would have an editor find fault with every line of the table.
NOTHING_ELSE = {"not": {"description": "a field of this name"}}


# JSON has one kind of number, TOML two: 0.0 is no integer in a file of ours.
AS_TOML = jsonschema.validators.extend(
    jsonschema.Draft202012Validator,
    type_checker=jsonschema.Draft202012Validator.TYPE_CHECKER.redefine(
        "integer", lambda _, value: isinstance(value, int) and not isinstance(value, bool)
    ),
)


@cache
def published(name: str) -> Any:
    text = (generate_schemas.TARGET / f"{name}.schema.json").read_text(encoding="utf-8")
    return AS_TOML(json.loads(text))


def by_schema(name: str, document: dict[str, Any]) -> bool:
    return bool(published(name).is_valid(json_form(document)))


def by_model(name: str, document: dict[str, Any]) -> bool:
    try:
        MODELS[name].model_validate(document)
    except ValidationError:
        return False
    return True


@pytest.mark.parametrize("name", MODELS)
def test_the_published_schema_is_current(name: str) -> None:
    text = (generate_schemas.TARGET / f"{name}.schema.json").read_text(encoding="utf-8")
    assert text == schema_text(name), "python tests/generate_schemas.py writes it anew"


@pytest.mark.parametrize("name", MODELS)
def test_the_schema_is_one_by_the_standard(name: str) -> None:
    """JSON Schema 2020-12, by the metaschema that jsonschema carries."""
    jsonschema.Draft202012Validator.check_schema(json.loads(schema_text(name)))


@pytest.mark.parametrize("name", MODELS)
def test_nothing_unknown_is_allowed_and_each_field_is_described(name: str) -> None:
    whole = json.loads(schema_text(name))
    for table in (whole, *whole.get("$defs", {}).values()):
        if "properties" not in table:
            continue
        assert table["additionalProperties"] == NOTHING_ELSE
        for key, field in table["properties"].items():
            described = field.get("description", "")
            assert described.endswith("."), f"{name}: {table.get('title')}.{key}"


@pytest.mark.parametrize("name", MODELS)
def test_every_quantity_says_dimension_and_bounds(name: str) -> None:
    text = schema_text(name)
    assert text.count('"x-dimension"') == text.count('"x-low"') == text.count('"x-high"')


@settings(max_examples=100)
@given(documents("car"))
def test_a_car_valid_by_the_schema_is_valid_by_the_model(document: dict[str, Any]) -> None:
    assert by_schema("car", document)
    assert by_model("car", document)


@settings(max_examples=60)
@given(documents("session"))
def test_a_session_valid_by_the_schema_is_valid_by_the_model(document: dict[str, Any]) -> None:
    assert by_schema("session", document)
    assert by_model("session", document)


WRONG = st.one_of(
    st.booleans(),
    st.integers(-(10**6), 10**6),
    st.floats(allow_nan=False, allow_infinity=False),
    st.text(max_size=12),
    st.lists(st.integers(0, 9), max_size=3),
    st.just({}),
    st.sampled_from(
        ["90,2 mm", "7 psig", "12", "-5 mm", "1 furlong", "yes", "2026-03-14", "9e9 m"]
    ),
)


@settings(max_examples=300)
@given(path=st.sampled_from(sorted(leaves_of("car"))), value=WRONG)
def test_what_the_schema_refuses_the_model_refuses(path: str, value: Any) -> None:
    """The model may be stricter (bounds, hidden characters), the schema never."""
    document = put(CAR, path, value)
    if not by_schema("car", document):
        assert not by_model("car", document)


@settings(max_examples=200)
@given(st.data())
def test_the_schema_is_looser_only_where_it_cannot_say_it(data: st.DataObject) -> None:
    """For everything but quantities' bounds and hidden characters the two agree exactly."""
    path = data.draw(st.sampled_from(sorted(leaves_of("car"))))
    leaf = leaves_of("car")[path]
    value = data.draw(st.one_of(values(leaf), WRONG.filter(lambda v: not isinstance(v, str))))
    document = put(CAR, path, value)
    assert by_schema("car", document) is by_model("car", document)


def ends(leaf: dict[str, Any]) -> list[tuple[Any, bool]]:
    """Values at the ends of what a field may hold and just beyond them, and whether it takes them.

    Quantities say their ends in two keys of their own, and take both (a slip of the pen is
    further off); numbers by JSON Schema's minimum, maximum and their exclusive kinds (draft
    2020-12, validation, 6.2); lists and texts by how many there may be.
    """
    found: list[tuple[Any, bool]] = []
    for key, way in (("x-low", -1), ("x-high", 1)):
        if key in leaf:
            number, unit = leaf[key].split(" ", 1)
            far = float(number) + way * max(abs(float(number)), 1.0) * 1e-9
            found += [(leaf[key], True), (f"{far:.12f} {unit}", False)]
    step = 1 if leaf.get("type") == "integer" else 1e-9
    for key, inward in (("minimum", 1), ("maximum", -1)):
        if key in leaf:
            found += [(leaf[key], True), (leaf[key] - inward * step, False)]
        exclusive = f"exclusive{key.capitalize()}"
        if exclusive in leaf:
            found += [(leaf[exclusive], False), (leaf[exclusive] + inward * step, True)]
    return found


@pytest.mark.parametrize("name", ["car", "session"])
def test_every_bound_is_where_the_schema_has_it(name: str) -> None:
    """The schema is published beside the program; the model reads the same ends."""
    start = {"car": CAR, "session": SESSION}[name]
    wrong = [
        (path, value, takes)
        for path, leaf in leaves_of(name).items()
        for value, takes in ends(leaf)
        if by_model(name, put(start, path, value)) is not takes
    ]
    assert wrong == []
    assert sum(len(ends(leaf)) for leaf in leaves_of(name).values()) > 20


REFUSED: list[tuple[str, dict[str, Any]]] = [
    ("car", {"engine.bor": "84 mm"}),
    ("car", {"engine.bore": 84}),
    ("car", {"engine.bore": "84"}),
    ("car", {"engine.bore": "84 kg"}),
    ("car", {"engine.bore": "84,0 mm"}),
    ("car", {"engine.cylinders": 6.5}),
    ("car", {"engine.cylinders": "6"}),
    ("car", {"engine.cylinders": 25}),
    ("car", {"engine.layout": "boxer"}),
    ("car", {"engine.compression_ratio": 98}),
    ("car", {"engine.knock_control": "yes"}),
    ("car", {"format": 2}),
    ("car", {"car.name": ""}),
    ("session", {"gear": 0}),
    ("session", {"lockup": "open"}),
    ("session", {"air.humidity": 45}),
    ("session", {"column": [{"channel": "engine speed", "name": "n"}]}),
]


@pytest.mark.parametrize(("name", "change"), REFUSED)
def test_both_refuse(name: str, change: dict[str, Any]) -> None:
    document = {"car": CAR, "session": SESSION}[name]
    assert by_schema(name, document)
    assert by_model(name, document)
    ((path, value),) = change.items()
    broken = put(document, path, value)
    assert not by_schema(name, broken)
    assert not by_model(name, broken)


def demo_files() -> list[Any]:
    found = [*DEMO.rglob("car.toml"), *DEMO.rglob("session.toml")]
    for folder in ("checks", "torque", "faults"):
        found += DEMO.rglob(f"{folder}/*.toml")
    return [pytest.param(path, id=str(path.relative_to(DEMO))) for path in sorted(found)]


@pytest.mark.parametrize("path", demo_files())
def test_the_demos_files_are_valid(path: Any) -> None:
    kind = next((FOLDERS[part] for part in path.parts if part in FOLDERS), "car")
    kind = "torque-sheet" if path.name.endswith(".sheet.toml") else kind
    document = tomllib.loads(path.read_text(encoding="utf-8"))
    assert [error.message for error in published(kind).iter_errors(json_form(document))] == []
    record, findings = load(MODELS[kind], path.read_bytes(), path.name)
    assert record is not None
    assert findings == []


def test_a_schema_speaks_of_nothing_that_toml_has_not() -> None:
    for name in MODELS:
        text = schema_text(name)
        assert '"null"' not in text
