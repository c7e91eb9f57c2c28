"""Write the schemas of what commands print with --json: `python -m tests.generate_output_schemas`.

They are read off the kept answers (tests/golden): what stands in each is required, what stands in
some is allowed. A key may be added within a version; none is taken away or means something else.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from tests.golden import answers

TARGET = Path(__file__).parents[1] / "buildlog" / "report" / "as_json" / "output_schemas"
# What always says something: the words that name a thing, and those of a finding.
NEVER_MISSING = {"format", "code", "severity", "text", "kind", "name", "path", "state", "ledger",
                 "key", "result", "verdict", "basis", "meaning", "unit", "id", ""}  # fmt: skip
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


def described(values: Sequence[Any], key: str = "") -> dict[str, Any]:
    """The schema that all these values have in common."""
    kinds = {_NAMES[type(v)] for v in values if not isinstance(v, dict | list)}
    if kinds & {"number", "integer", "string"} and key not in NEVER_MISSING:
        kinds.add("null")  # what is not known is null, whether or not it was in the kept answers
    if "number" in kinds:
        kinds -= {"integer"}
    made: dict[str, Any] = {}
    tables = [v for v in values if isinstance(v, dict)]
    if tables:
        kinds |= {"object"} if key in NEVER_MISSING else {"object", "null"}
        made |= _table(tables)
    lists = [v for v in values if isinstance(v, list)]
    if lists:
        kinds.add("array")
        inner = [one for v in lists for one in v]
        made |= {"items": described(inner)} if inner else {}
    return {"type": sorted(kinds) if len(kinds) > 1 else kinds.pop(), **made} if kinds else {}


def _table(tables: Sequence[dict[str, Any]]) -> dict[str, Any]:
    keys = list(dict.fromkeys(key for table in tables for key in table))
    if _is_a_map(keys):
        return {"additionalProperties": described([v for table in tables for v in table.values()])}
    required = [key for key in keys if all(key in table for table in tables)]
    properties = {key: described([t[key] for t in tables if key in t], key) for key in keys}
    return {"properties": properties, "required": required}


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
        body = described(held)
        body["properties"]["format"] = {"const": name}
        made[short] = {
            "$schema": "https://json-schema.org/draft/2020-12/schema",
            "$id": f"urn:buildlog:output:{short}:{version}",
            "description": f"What `buildlog {short.replace('-', ' ')} --json` prints. A key ends "
            "in the unit of its number: _w watts, _nm newton metres, _pa pascals, _m metres.",
            **body,
        }
    return made


def text(schema: dict[str, Any]) -> str:
    return json.dumps(schema, indent=1, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    TARGET.mkdir(exist_ok=True)
    for short, schema in schemas().items():
        (TARGET / f"{short}.schema.json").write_text(text(schema), "utf-8")
