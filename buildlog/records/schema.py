"""The JSON Schemas of every file a shop writes, for editors and other programs."""

from __future__ import annotations

from typing import Any

from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import core_schema

from buildlog.records.caption import PhotoCaption
from buildlog.records.car.configuration import Configuration
from buildlog.records.car.due import Service
from buildlog.records.checks import Check, Checklist
from buildlog.records.custody import Custody
from buildlog.records.day_notes import OdometerReading, Waiting
from buildlog.records.fasteners import Joint, JointSheet
from buildlog.records.faults import Fault
from buildlog.records.fields.base import Record
from buildlog.records.outside import OutsideFile
from buildlog.records.plan import Plan
from buildlog.records.session import Session

MODELS: dict[str, type[Record]] = {
    "car": Configuration,
    "session": Session,
    "check": Check,
    "checklist": Checklist,
    "fault": Fault,
    "torque": Joint,
    "torque-sheet": JointSheet,
    "handover": Custody,
    "plan": Plan,
    "reading": OdometerReading,
    "waiting": Waiting,
    "due": Service,
    "outside": OutsideFile,
    "caption": PhotoCaption,
}

# The same models by the kind that the store gives a path (see store/git/ledger_files.py).
OF_KIND = {
    {"car": "configuration", "checklist": "list"}.get(name, name): model
    for name, model in MODELS.items()
    if name != "plan"
}


class _OfToml(GenerateJsonSchema):
    """TOML has no null: what may be missing is not required, and nothing more is said of it."""

    def nullable_schema(self, schema: core_schema.NullableSchema) -> JsonSchemaValue:
        return self.generate_inner(schema["schema"])

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> JsonSchemaValue:
        if schema.get("default") is None:
            return self.generate_inner(schema["schema"])
        return super().default_schema(schema)

    def model_schema(self, schema: core_schema.ModelSchema) -> JsonSchemaValue:
        """A name that is no field's is wrong by itself, not the whole table that it stands in:
        else an editor underlines every line of the table."""
        made = super().model_schema(schema)
        if made.get("additionalProperties") is False:
            made["additionalProperties"] = {"not": {"description": "a field of this name"}}
        return made

    def field_title_should_be_set(self, schema: Any) -> bool:
        return False  # an editor shows the key as it is typed, and the description


def schema(name: str) -> dict[str, Any]:
    """The JSON Schema (2020-12) of one kind of file; KeyError if there is none of that name."""
    body = MODELS[name].model_json_schema(schema_generator=_OfToml)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:buildlog:schema:{name}:1",
        **body,
    }
