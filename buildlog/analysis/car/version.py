"""A version: the configuration as it stood at an entry, with the facts of the entry.

The history of a car reaches the analysis as a sequence of versions, parents first.
Nothing here knows how it is stored.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field

from buildlog.records.car.configuration import Configuration


@dataclass(frozen=True)
class Version:
    """One entry and the configuration it left behind.

    `number` is 0 and `id` is empty for the working files, which are not yet recorded.
    `odometer` is the instrument's reading in metres, None where it is unknown.
    `promised` is the trailer of an entry that built a quoted plan.
    The tuples of names say what the entry added: session names ("2026-03-14-baseline"),
    and file names without folder and ending for checks, faults, tightening records, services,
    odometer readings and waits.
    """

    number: int
    id: str
    kind: str
    date: dt.date | None
    odometer: float | None
    configuration: Configuration
    stage: str | None = None
    subject: str = ""
    done_by: str | None = None
    approved_by: str | None = None
    corrects: str | None = None
    resolves: str | None = None
    outside: bool = False
    odometer_text: str | None = None
    sessions: tuple[str, ...] = ()
    checks: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()
    joints: tuple[str, ...] = ()
    services: tuple[str, ...] = ()
    readings: tuple[str, ...] = ()
    waits: tuple[str, ...] = ()
    plan: str | None = field(default=None)
    promised: str | None = None

    @property
    def working(self) -> bool:
        """Whether this is the state on disk, not yet recorded."""
        return self.number == 0 and self.plan is None

    @property
    def name(self) -> str:
        """How a person calls it: its stage, else "entry 7", else "working"."""
        if self.stage:
            return self.stage
        if self.plan:
            return f"plan:{self.plan}"
        return f"entry {self.number}" if self.number else "working"


def distance_run(history: Sequence[Version]) -> list[float | None]:
    """The continuous distance [m] at each version: reading plus the offsets in force.

    An offset holds from the entry it names, or from the first version that has it.
    None where the reading is unknown.
    """
    starts: dict[str, int] = {}
    for index, version in enumerate(history):
        for offset in version.configuration.odometer_offset:
            if offset.key not in starts:
                named = place_of(history, offset.from_entry)
                starts[offset.key] = index if named is None else named
    newest = {o.key: o.distance.si for v in history for o in v.configuration.odometer_offset}
    return [
        None
        if version.odometer is None
        else version.odometer
        + sum(distance for key, distance in newest.items() if index >= starts[key])
        for index, version in enumerate(history)
    ]


def place_of(history: Sequence[Version], entry: str | None) -> int | None:
    """The index of the entry with this id (or its beginning); None if there is none."""
    if not entry:
        return None
    found = (i for i, version in enumerate(history) if version.id.startswith(entry))
    return next(found, None)
