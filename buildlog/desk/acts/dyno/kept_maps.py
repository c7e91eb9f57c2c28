"""What a shop once said of a foreign file's columns, kept beside its settings for the next one.

A file is known again by its column names, all of them in their order: what was said of another
file is never guessed into this one. What is said now goes before what was kept.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from pathlib import Path

from buildlog.desk.snapshot import settings
from buildlog.records.toml import toml_write
from buildlog.store.disk import atomic

_MOST = 40  # kinds of files; the oldest goes


def path() -> Path:
    """The file of kept maps, in the folder of the settings."""
    return settings.path().with_name("raw-files.toml")


def kept(columns: Sequence[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Maps ("power=P:kW") and columns to leave out that were said of a file with these columns."""
    for one in _all():
        if one["columns"] == list(columns):
            return tuple(one["maps"]), tuple(one["leave_out"])
    return (), ()


def keep(columns: Sequence[str], maps: Sequence[str], leave_out: Sequence[str]) -> None:
    """Keep what was said of a file with these columns; with nothing said nothing changes."""
    if not maps and not leave_out:
        return
    one = {"columns": list(columns), "maps": list(maps), "leave_out": list(leave_out)}
    others = [other for other in _all() if other["columns"] != one["columns"]]
    whole = {"file": [*others, one][-_MOST:]}
    path().parent.mkdir(parents=True, exist_ok=True)
    with atomic.disk_errors("keeping what the columns of a file are"):
        atomic.replace(path(), _HEAD + toml_write.write(whole))


_HEAD = b"# What columns of raw files are, as said with --map; delete what should be asked again.\n"


def _all() -> list[dict[str, list[str]]]:
    """What was kept; a file that cannot be read holds nothing."""
    try:
        data = tomllib.loads(path().read_text("utf-8"))
        return [one for one in data["file"] if all(_texts(one[key]) for key in _KEYS)]
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError, KeyError, TypeError):
        return []


_KEYS = ("columns", "maps", "leave_out")


def _texts(value: object) -> bool:
    return isinstance(value, list) and all(isinstance(one, str) for one in value)
