"""The checklists that come with the program; a shop's own lie in its ledger's `lists` folder."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from buildlog.records.checks import Checklist
from buildlog.records.reading import read

_FOLDER = Path(__file__).parents[1] / "checklists"
# In the order of the work.
SHIPPED = (
    "intake",
    "first-start",
    "light-load-check",
    "before-dyno",
    "after-break-in",
    "hand-back",
)


@cache
def shipped(name: str) -> Checklist:
    """A shipped list; KeyError if there is none of that name."""
    if name not in SHIPPED:
        raise KeyError(name)
    data = (_FOLDER / f"{name}.toml").read_bytes()
    return read(Checklist, data, f"checklists/{name}.toml")
