"""The JSON Schema of a file as text, for editors and other programs."""

from __future__ import annotations

import json
from importlib.resources import files

from buildlog.errors import NotFound
from buildlog.records.schema import MODELS, schema

_PLACE = files("buildlog") / "report" / "as_json" / "output_schemas"


def output_names() -> list[str]:
    """The commands whose --json has a published schema."""
    ending = ".schema.json"
    return sorted(one.name.removesuffix(ending) for one in _PLACE.iterdir()
                  if one.name.endswith(ending))  # fmt: skip


def output_schema_text(name: str) -> str:
    """The schema of what a command prints with --json; NotFound lists the commands."""
    plain = name.replace(" --", " ").replace(" ", "-")
    if plain not in output_names():
        known = ", ".join(output_names())
        raise NotFound(f'there is no schema of the output of "{name}"', hint=f"known: {known}")
    return (_PLACE / f"{plain}.schema.json").read_text("utf-8")


def schema_text(name: str) -> str:
    """The schema of one kind of file as it is kept in shared/schemas; NotFound lists the kinds."""
    if name not in MODELS:
        raise NotFound(f'there is no schema "{name}"', hint=f"known: {', '.join(MODELS)}")
    return json.dumps(schema(name), indent=1, ensure_ascii=False) + "\n"
