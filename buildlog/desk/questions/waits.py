"""What a car waits for now: what was written down, less what was ended by a later file."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from buildlog.analysis.workshop.wait_book import Wait as Wait
from buildlog.analysis.workshop.wait_book import open_waits
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.records.day_notes import OdometerReading, Waiting
from buildlog.records.reading import load
from buildlog.store.ledger.names import WORKING


def waits(book: Snapshot) -> list[Wait]:
    """What it waits for, oldest first. A file that cannot be read is told by `check`."""
    paths = [path for path in sorted(book.ledger.working().files) if path.startswith("waiting/")]
    return _open({path: book.ledger.read(WORKING, path) for path in paths})


def waits_in(folder: Path) -> list[Wait]:
    """The same of a folder whose ledger need not be opened, as where many cars are looked at."""
    found = {}
    for path in sorted(folder.glob("waiting/*.toml")):
        with suppress(OSError):  # taken away meanwhile
            found[f"waiting/{path.name}"] = path.read_bytes()
    return _open(found)


def _open(files: Mapping[str, bytes]) -> list[Wait]:
    read = ((path, load(Waiting, data, path)[0]) for path, data in files.items())
    return open_waits({
        path.removeprefix("waiting/").removesuffix(".toml"): one
        for path, one in read
        if one is not None
    })  # fmt: skip


def newest_reading(book: Snapshot) -> OdometerReading | None:
    """The reading of the newest day that stands beside the entries; None where there is none."""
    found = [
        one
        for path in sorted(book.ledger.working().files)
        if path.startswith("readings/")
        and (one := load(OdometerReading, book.ledger.read(WORKING, path), path)[0]) is not None
    ]
    return max(found, key=lambda one: one.date, default=None)
