"""Folders that a file service keeps in step, told by what lies in them and not by a product."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path

from buildlog.findings import Finding

COPY = (
    "{} looks like the copy a file service made where two computers changed one file: "
    "it is not recorded; take over what is right and remove it"
)
# A copy that a service made because two computers changed one file.
_CONFLICT = re.compile(r"\bconflict(ed|ing)?\b", re.IGNORECASE)
_NUMBERED = re.compile(r"(.+?) (?:\(\d{1,3}\)|\d{1,2})(\.toml)")
# What services keep beside the files they carry: hidden lists, locks and folders of their own.
_MARKS = re.compile(r"\.(\w*sync\w*|\w*cloud\w*|\w*drive\w*)(\..*)?", re.IGNORECASE)


def is_conflict_copy(path: str, known: Iterable[str]) -> bool:
    """Whether a file is a second copy that a service made of one that is there too.

    >>> is_conflict_copy("car 2.toml", ["car.toml"])
    True
    >>> is_conflict_copy("dyno/a/run (conflicted copy 2026-05-03).csv", [])
    True
    >>> is_conflict_copy("dyno/a/run 2.csv", ["dyno/a/run.csv"])  # a raw file may be called so
    False
    """
    folder, _, name = path.rpartition("/")
    if _CONFLICT.search(name):
        return True
    numbered = _NUMBERED.fullmatch(name)
    first = f"{folder}/" * bool(folder) + "".join(numbered.groups()) if numbered else None
    return first is not None and first in set(known)


def synchronised(folder: Path) -> list[Finding]:
    """A caution where the folder lies in one that a file service keeps in step."""
    for place in (folder, *folder.parents):
        try:
            marks = sorted(p.name for p in place.iterdir() if _MARKS.fullmatch(p.name))
        except OSError:
            continue
        if marks and place != Path.home():
            text = f"{place} looks like a folder that a file service keeps in step ({marks[0]})"
            hint = "two computers' entries can part there: keep the ledger outside, and use sync"
            return [Finding("synchronised", "caution", text, where=str(place), hint=hint)]
    return []
