"""Faults that stand in a car's working files and in no entry yet, read without opening its ledger,
as where many cars are looked at."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from contextlib import suppress
from pathlib import Path

from buildlog.records.faults import Fault
from buildlog.records.reading import load


def unrecorded_faults(folder: Path, recorded: Collection[str]) -> list[Fault]:
    """The open ones, oldest first; `recorded` are the files below faults/ that the newest entry
    has. A file that cannot be read is told by `check`."""
    found = dict(_read(folder, recorded))
    over = {one.closes for one in found.values()}
    opened = [one for name, one in found.items() if one.state == "open" and name not in over]
    return sorted(opened, key=lambda one: one.date)


def _read(folder: Path, recorded: Collection[str]) -> Iterator[tuple[str, Fault]]:
    for path in sorted(folder.glob("faults/*.toml")):
        place = f"faults/{path.name}"
        if place not in recorded:
            with suppress(OSError):  # taken away meanwhile
                found = load(Fault, path.read_bytes(), place)[0]
                if found is not None:
                    yield path.stem, found
