"""What commands print with --json is what its published schema says."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from buildlog.report.as_json.json_schema import output_names, output_schema_text
from tests.cli.dyno_ledger import dyno_ledger
from tests.conftest import ROOT, Call
from tests.generate_output_schemas import documents, schemas, text

# What can be asked of any ledger, whatever it lacks.
ASKED = (
    "check", "checklist list", "checklist show intake", "diff", "dyno sheet", "fault list",
    "headroom", "history", "key list", "margins", "next", "plan list", "predict --back-test",
    "show", "show --parts", "torque list", "verify", "report", "explain close", "explain",
)  # fmt: skip


def closed(schema: Any) -> Any:
    """The same where nothing but what is published may stand."""
    if isinstance(schema, list):
        return [closed(one) for one in schema]
    if not isinstance(schema, dict):
        return schema
    made = {key: closed(value) for key, value in schema.items()}
    return {**made, "additionalProperties": False} if "required" in made else made


@pytest.mark.parametrize("name", output_names())
def test_a_published_schema_is_one_and_is_what_the_kept_answers_say(name: str) -> None:
    kept = json.loads(output_schema_text(name))
    jsonschema.Draft202012Validator.check_schema(kept)
    assert kept["$id"] == f"urn:buildlog:output:{name}:1"
    assert kept["properties"]["format"]["const"] == f"buildlog/{name}/1"


def test_the_schemas_are_those_of_the_kept_answers() -> None:
    """`python -m tests.generate_output_schemas` writes them anew; a key that is gone is a break."""
    made = schemas()
    assert sorted(made) == output_names()
    assert [name for name in made if text(made[name]) != output_schema_text(name)] == []


def test_every_kept_document_holds_what_is_published_and_nothing_else() -> None:
    checks = {name: jsonschema.Draft202012Validator(closed(json.loads(output_schema_text(name))))
              for name in output_names()}  # fmt: skip
    count = 0
    for document in documents():
        checks[document["format"].split("/")[1]].validate(document)
        count += 1
    assert count > 150


def test_every_name_that_a_command_prints_is_published() -> None:
    said = set()
    for path in (ROOT / "buildlog" / "cli").glob("*.py"):
        said |= set(
            re.findall(r'(?:form\.answer|say_json)\(\s*"([a-z-]+)"', path.read_text("utf-8"))
        )
    assert said <= set(output_names())
    assert len(said) > 25


def odd_cars(tmp_path: Path) -> Iterator[Path]:
    """Ledgers of which no answer is kept: one session, two, three without a difference."""
    for count in (1, 2, 3):
        sessions = [(f"s-{i}", {"peaks": [100e3 + 500 * i, 101e3]}) for i in range(count)]
        yield dyno_ledger(tmp_path / f"car-{count}", sessions)


@pytest.mark.parametrize("asked", ASKED)
@pytest.mark.one_in(5)
def test_what_other_cars_answer_is_valid_too(asked: str, tmp_path: Path, buildlog: Call) -> None:
    for folder in odd_cars(tmp_path):
        told = buildlog(*asked.split(), "--json", at=folder)
        if told.status in (0, 1) and told.out:
            document = json.loads(told.out)
            name = document["format"].split("/")[1]
            jsonschema.Draft202012Validator(json.loads(output_schema_text(name))).validate(document)


def test_a_missing_key_would_be_seen() -> None:
    check = jsonschema.Draft202012Validator(json.loads(output_schema_text("history")))
    assert not check.is_valid({"format": "buildlog/history/1"})


def test_the_schema_is_printed(buildlog: Call, tmp_path: Path) -> None:
    told = buildlog("schema", "--output", "dyno sheet", at=tmp_path)
    assert json.loads(told.out)["$id"] == "urn:buildlog:output:dyno-sheet:1"
    assert buildlog("schema", "--output", "nonesuch", at=tmp_path).status == 3


def properties(schema: Any, place: str) -> Iterator[tuple[str, dict[str, Any]]]:
    """Every named key of a schema, however deep, with its own."""
    if isinstance(schema, list):
        for one in schema:
            yield from properties(one, place)
    if isinstance(schema, dict):
        for name, own in schema.get("properties", {}).items():
            yield f"{place}.{name}", own
            yield from properties(own, f"{place}.{name}")
        for key in ("items", "additionalProperties"):
            yield from properties(schema.get(key), place)


@pytest.mark.parametrize("name", output_names())
def test_every_key_says_what_it_is_and_every_number_in_which_unit(name: str) -> None:
    """And every table says whether more may stand in it, and no key holds nothing but null."""
    schema = json.loads(output_schema_text(name))
    for place, own in [(name, schema), *properties(schema, name)]:
        assert own.get("description"), place
        kinds = own.get("type", [])
        kinds = kinds if isinstance(kinds, list) else [kinds]
        assert kinds != ["null"], place
        if "number" in kinds:
            assert re.search(r"\[.+\]", own["description"]), f"{place} says no unit"
        if "properties" in own:
            assert own["additionalProperties"] is True, place


def test_words_of_closed_sets_are_those_of_the_program() -> None:
    margins = json.loads(output_schema_text("margins"))["properties"]["margins"]["items"]
    assert margins["properties"]["state"]["enum"] == ["over", "close", "clear", "unknown"]
    made = jsonschema.Draft202012Validator(margins["properties"]["state"])
    assert not made.is_valid("fine")
