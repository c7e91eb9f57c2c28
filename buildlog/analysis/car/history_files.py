"""What a history holds beside the configurations: sessions, checks, faults, tightening records."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from buildlog.analysis.car.matching import Visit
from buildlog.analysis.car.version import Version
from buildlog.records.checks import Check
from buildlog.records.fasteners import Joint
from buildlog.records.faults import Fault


@dataclass(frozen=True)
class HistoryFiles:
    """Every carried-out list, fault and tightening record by name, and the dyno visits.

    Which entry added which is said by the versions: `version.checks`, `.faults`, `.joints`.
    """

    visits: Sequence[Visit] = ()
    checks: Mapping[str, Check] = field(default_factory=dict)
    faults: Mapping[str, Fault] = field(default_factory=dict)
    joints: Mapping[str, Joint] = field(default_factory=dict)

    def checks_in(self, history: Sequence[Version]) -> Iterator[tuple[int, str, Check]]:
        """The carried-out lists: place of the entry in the history, name, list."""
        for index, version in enumerate(history):
            for name in version.checks:
                if name in self.checks:
                    yield index, name, self.checks[name]

    def visits_in(self, history: Sequence[Version]) -> Iterator[tuple[int, Visit]]:
        """The dyno visits with the place of the version that was measured, in that order;
        those of versions beyond the history are left out."""
        found = [(index_of(history, visit.owner), visit) for visit in self.visits]
        inside = [(index, visit) for index, visit in found if index is not None]
        yield from sorted(inside, key=lambda one: (one[0], one[1].session.date))


def index_of(history: Sequence[Version], version: Version) -> int | None:
    """The index of a version; None if it is not in the history."""
    same = (i for i, v in enumerate(history) if v.number == version.number and v.id == version.id)
    return next(same, None)


def place(history: Sequence[Version], version: Version) -> int:
    """The index of a version; one that is not in the history stands at its end."""
    index = index_of(history, version)
    return len(history) - 1 if index is None else index


def place_of(history: Sequence[Version], entry: str | None) -> int | None:
    """The index of the entry with this id (or its beginning); None if there is none."""
    if not entry:
        return None
    found = (i for i, version in enumerate(history) if version.id.startswith(entry))
    return next(found, None)
