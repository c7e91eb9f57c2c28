"""The schema of `car.toml` where its first line tells an editor to look for it.

It stands beside git's own files: no entry and no handover holds it, so whoever makes a ledger of
one writes it anew.
"""

from __future__ import annotations

import json
from pathlib import Path

from buildlog.store.disk import atomic

_NAME = "buildlog-car.schema.json"
FIRST_LINE = f"#:schema .git/{_NAME}"


def put(git: Path) -> None:
    """Write the schema into a ledger's `.git`."""
    from buildlog.records.schema import schema

    atomic.replace(git / _NAME, json.dumps(schema("car"), indent=1).encode())


def put_if_named(folder: Path) -> None:
    """Write it where the ledger's car.toml names it and it is not there."""
    car, git = folder / "car.toml", folder / ".git"
    if not car.is_file() or (git / _NAME).exists():
        return
    with car.open("rb") as text:
        named = text.readline(200).strip() == FIRST_LINE.encode()
    if named:
        put(git)
