"""The JSON Schema of a file as text, for editors and other programs."""

from __future__ import annotations

import json

from buildlog.errors import NotFound
from buildlog.records.schema import MODELS, schema


def schema_text(name: str) -> str:
    """The schema of one kind of file as it is kept in shared/schemas; NotFound lists the kinds."""
    if name not in MODELS:
        raise NotFound(f'there is no schema "{name}"', hint=f"known: {', '.join(MODELS)}")
    return json.dumps(schema(name), indent=1, ensure_ascii=False) + "\n"
