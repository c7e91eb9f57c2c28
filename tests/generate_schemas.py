"""Write shared/schemas anew from the models: `python tests/generate_schemas.py`."""

from __future__ import annotations

from pathlib import Path

from buildlog.records.schema import MODELS
from buildlog.report.as_json.json_schema import schema_text

TARGET = Path(__file__).parents[1] / "shared" / "schemas"

if __name__ == "__main__":
    for name in MODELS:
        (TARGET / f"{name}.schema.json").write_text(schema_text(name), encoding="utf-8")
