"""The JSON Schemas of every file a shop writes, for editors and other programs."""

from __future__ import annotations

from typing import Any

from buildlog.records.base import Record
from buildlog.records.checks import Check, Checklist
from buildlog.records.configuration import Configuration
from buildlog.records.custody import Custody
from buildlog.records.fasteners import Joint
from buildlog.records.faults import Fault
from buildlog.records.plan import Plan
from buildlog.records.session import Session

MODELS: dict[str, type[Record]] = {
    "car": Configuration,
    "session": Session,
    "check": Check,
    "checklist": Checklist,
    "fault": Fault,
    "torque": Joint,
    "handover": Custody,
    "plan": Plan,
}

# The same models by the kind that the store gives a path (see store/git/ledger_files.py).
OF_KIND = {
    {"car": "configuration", "checklist": "list"}.get(name, name): model
    for name, model in MODELS.items()
    if name != "plan"
}


def schema(name: str) -> dict[str, Any]:
    """The JSON Schema (2020-12) of one kind of file; KeyError if there is none of that name."""
    body = MODELS[name].model_json_schema()
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:buildlog:schema:{name}:1",
        **body,
    }
