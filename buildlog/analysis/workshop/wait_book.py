"""What a car waits for: a part, somebody's go-ahead, work done elsewhere; and since when."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from buildlog.records.day_notes import Waiting


@dataclass(frozen=True)
class Wait:
    """One thing that a car waits for, by the name of its file."""

    name: str
    waiting: Waiting

    @property
    def what(self) -> str:
        """The thing, as a person calls it."""
        return self.waiting.what or self.name

    @property
    def since(self) -> dt.date:
        """The first day of it."""
        return self.waiting.since or self.waiting.date

    def is_late(self, day: dt.date) -> bool:
        """Whether it was expected before that day."""
        return self.waiting.expected is not None and self.waiting.expected < day


def open_waits(written: Mapping[str, Waiting]) -> list[Wait]:
    """What was written down, by the names of its files, less what was ended; oldest first."""
    over = {one.ends for one in written.values() if one.state == "ended"}
    found = [Wait(name, one) for name, one in written.items() if one.state == "waiting"]
    return sorted((one for one in found if one.name not in over), key=lambda one: one.since)
