"""Write the schemas of what commands print with --json: `python -m tests.generate_output_schemas`.

Which keys there are is read off the kept answers (tests/golden): what stands in each is required,
what stands in some is allowed. What a key means is said in output_words.toml, with its unit, and
which words it may hold in `narrow`, from the code that makes them. A key may be added within a
version, so a reader passes over what it does not know (`additionalProperties`); none is taken away
or means something else.
"""

from __future__ import annotations

import json
import sys
import tomllib
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, get_args

from buildlog.analysis.margins.figures.demand_figure import Basis
from buildlog.analysis.pulls.pull_data import AxisName
from buildlog.findings import Severity
from buildlog.physics.gases.airfuel import REGIONS
from buildlog.physics.parts.margin import Rule, State
from buildlog.records.checks import Result
from buildlog.store.verify.verdict import Verdict
from tests.golden import answers

TARGET = Path(__file__).parents[1] / "buildlog" / "report" / "as_json" / "output_schemas"
# What always says something: the words that name a thing, and those of a finding.
NEVER_MISSING = {"format", "code", "severity", "text", "kind", "name", "path", "state", "ledger",
                 "key", "result", "verdict", "basis", "meaning", "unit", "id", ""}  # fmt: skip
WORDS_FILE = Path(__file__).parent / "output_words.toml"
WORDS = tomllib.loads(WORDS_FILE.read_text("utf-8"))
# What is typed for a document whose name is not its command's.
CALLS = {"show-parts": "show --parts", "predict-back-test": "predict --back-test"}
MISSING: set[str] = set()  # keys of which nothing is said there
_ID = {"pattern": "^[0-9a-f]{40}$"}
_MARGINS = ("before", "after", "independent", "margins", "tightest")
# Keys that hold words of a closed set, or texts of one form.
NARROW: dict[str, dict[str, Any]] = {
    "severity": {"enum": list(get_args(Severity))},
    "axis": {"enum": list(get_args(AxisName))},
    "axis_unit": {"enum": ["rpm", "km/h"]},
    "air_fuel.region": {"enum": [*REGIONS, "full load"]},
    "item.result": {"enum": list(get_args(Result))},
    "verify.verdict": {"enum": list(get_args(Verdict))},
    "ledger.verdict": {"enum": list(get_args(Verdict))},
    "changes.kind": {"enum": ["added", "removed", "changed"]},
    "faults.state": {"enum": ["open", "closed"]},
    **{f"{one}.state": {"enum": [state.value for state in State]} for one in _MARGINS},
    **{f"{one}.rule": {"enum": [rule.value for rule in Rule]} for one in _MARGINS},
    **{f"{one}.{key}": {"enum": list(get_args(Basis))}
       for one in _MARGINS for key in ("basis", "demand_basis", "capacity_basis")},
    **{key: {"format": "date"} for key in ("date", "day", "recorded_on", "fitted_on")},
    "calibrations.id": {},
    **dict.fromkeys(("id", "head", "tip", "corrects", "resolves"), _ID),
    **{key: {"pattern": "^[0-9a-f]{64}$"} for key in ("sha256", "original_sha256")},
}  # fmt: skip
_NAMES = {str: "string", bool: "boolean", int: "integer", float: "number", type(None): "null"}


def documents() -> Iterator[dict[str, Any]]:
    """Every document that a kept call printed."""
    for group in answers.groups():
        for lines in answers.kept(group):
            text = "\n".join(line[2:] for line in lines if line.startswith("| "))
            if "--json" in lines[0] and text.startswith("{"):
                yield json.loads(text)
    # What no kept call answers: two machines that measured one car, a packed repository, a server.
    yield from json.loads(
        (Path(__file__).parent / "golden" / "two_more_documents.json").read_text()
    )


def said(words: dict[str, Any], parent: str, key: str) -> Any:
    """What is said of a key: of its own place, else of its name."""
    return words.get(f"{parent}.{key}", words.get(key))


def described(values: Sequence[Any], key: str = "", parent: str = "") -> dict[str, Any]:
    """The schema that all these values have in common."""
    kinds = {_NAMES[type(v)] for v in values if not isinstance(v, dict | list)}
    if kinds & {"number", "integer", "string"} and key not in NEVER_MISSING:
        kinds.add("null")  # what is not known is null, whether or not it was in the kept answers
    if "number" in kinds:
        kinds -= {"integer"}
    if kinds == {"null"}:  # known in no kept answer: a number where its unit is said, else a text
        kinds.add("number" if "[" in (said(WORDS, parent, key) or "") else "string")
    made: dict[str, Any] = {}
    tables = [v for v in values if isinstance(v, dict)]
    if tables:
        kinds |= {"object"} if key in NEVER_MISSING else {"object", "null"}
        made |= _table(tables, key or parent)
    lists = [v for v in values if isinstance(v, list)]
    if lists:
        kinds.add("array")
        inner = [one for v in lists for one in v]
        made |= {"items": described(inner, "", key or parent)} if inner else {}
    made |= _narrowed(said(NARROW, parent, key), "null" in kinds) if key else {}
    return {"type": sorted(kinds) if len(kinds) > 1 else kinds.pop(), **made} if kinds else {}


def _narrowed(narrow: dict[str, Any] | None, nothing: bool) -> dict[str, Any]:
    if narrow and "enum" in narrow and nothing:
        return {"enum": [*narrow["enum"], None]}
    return narrow or {}


def _table(tables: Sequence[dict[str, Any]], parent: str) -> dict[str, Any]:
    keys = list(dict.fromkeys(key for table in tables for key in table))
    if _is_a_map(keys):
        values = [v for table in tables for v in table.values()]
        return {"additionalProperties": described(values, "", parent)}
    required = [key for key in keys if all(key in table for table in tables)]
    properties = {}
    for key in keys:
        words = said(WORDS, parent, key)
        if words is None:
            MISSING.add(f"{parent}.{key}")
            words = ""
        values = [table[key] for table in tables if key in table]
        properties[key] = {"description": words, **described(values, key, parent)}
    return {"properties": properties, "required": required, "additionalProperties": True}


def _is_a_map(keys: Sequence[str]) -> bool:
    """Whether the keys are names of the car's and no words of the format."""
    return not keys or any(not key.isidentifier() for key in keys)


def schemas() -> dict[str, dict[str, Any]]:
    """By name, as the first key of a document has it without its version."""
    found: dict[str, list[dict[str, Any]]] = {}
    for document in documents():
        found.setdefault(document["format"], []).append(document)
    made = {}
    for name, held in sorted(found.items()):
        _, short, version = name.split("/")
        body = described(held, "", short)
        body["properties"]["format"] = {"description": WORDS["format"], "const": name}
        made[short] = {
            "$schema": "https://json-schema.org/draft/2020-12/schema",
            "$id": f"urn:buildlog:output:{short}:{version}",
            "description": f"What `buildlog {CALLS.get(short, short.replace('-', ' '))} --json` "
            "prints. A key ends in the unit of its number: _w watts, _nm newton meters, "
            "_pa pascals, _m meters.",
            **body,
        }
    return made


def text(schema: dict[str, Any]) -> str:
    return json.dumps(schema, indent=1, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    made_now = schemas()
    if MISSING:
        sys.exit(f"say in {WORDS_FILE} what these mean: {', '.join(sorted(MISSING))}")
    TARGET.mkdir(exist_ok=True)
    for short, schema in made_now.items():
        (TARGET / f"{short}.schema.json").write_text(text(schema), "utf-8")
