"""The checklists that come with the program; a shop's own lie in its ledger's `lists` folder."""

from __future__ import annotations

from functools import cache
from importlib.resources import files

from buildlog.records.checks import Checklist
from buildlog.records.reading import read

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
    data = (files("buildlog") / "checklists" / f"{name}.toml").read_bytes()
    return read(Checklist, data, f"checklists/{name}.toml")
