"""Write shared/schemas anew from the models, and the fields that are new into the present
revision of shared/revisions.json: `python -m tests.generate_schemas`."""

from __future__ import annotations

import json
from pathlib import Path

from buildlog.records.fields.newer import FORMAT, REVISION
from buildlog.records.paths import fields
from buildlog.records.schema import MODELS
from buildlog.report.as_json.json_schema import schema_text

SHARED = Path(__file__).parents[1] / "shared"
TARGET = SHARED / "schemas"
REVISIONS = SHARED / "revisions.json"
Revisions = dict[str, dict[str, list[str]]]  # revision -> file -> paths that came with it


def known_revisions() -> Revisions:
    found: Revisions = json.loads(REVISIONS.read_text(encoding="utf-8"))
    return found


def with_new_fields(known: Revisions) -> Revisions:
    """The revisions, with fields that none of them has in the present one."""
    present = known.setdefault(f"{FORMAT}.{REVISION}", {})
    for name, model in MODELS.items():
        held = {path for files in known.values() for path in files.get(name, ())}
        if new := sorted(fields(model).keys() - held):
            present[name] = sorted([*present.get(name, ()), *new])
    return known


if __name__ == "__main__":
    for name in MODELS:
        (TARGET / f"{name}.schema.json").write_text(schema_text(name), encoding="utf-8")
    text = json.dumps(with_new_fields(known_revisions()), indent=0)
    REVISIONS.write_text(text + "\n", encoding="utf-8")
