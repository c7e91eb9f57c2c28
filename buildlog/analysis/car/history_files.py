"""What a history holds beside the configurations: sessions, checks, faults, tightening records; and
which session, and which of its groups, measured a given configuration."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from buildlog.analysis.car.changes import power_neutral, unlike
from buildlog.analysis.car.version import Version
from buildlog.records.car.configuration import Configuration
from buildlog.records.car.due import Service
from buildlog.records.checks import Check
from buildlog.records.day_notes import OdometerReading, Waiting
from buildlog.records.fasteners import Joint, JointSheet
from buildlog.records.faults import Fault
from buildlog.records.paths import assembly
from buildlog.records.session import Session


@dataclass(frozen=True)
class Visit:
    """A session and the version whose configuration was measured on it.

    `owner` is the version that first contains the session, or the one it names.
    """

    name: str
    session: Session
    owner: Version

    @property
    def calibrations(self) -> tuple[str | None, ...]:
        """The calibrations that its used pulls were made with, in order."""
        used = [pull.calibration for pull in self.session.pull if pull.use]
        return tuple(dict.fromkeys(used))


@dataclass(frozen=True)
class Match:
    """The visit that stands for a version. `note` says what is not exactly alike."""

    visit: Visit
    calibration: str | None
    exact: bool
    note: str | None = None


def match(target: Version, visits: Sequence[Visit]) -> Match | None:
    """The version's own visit where it holds one, else the newest visit with a physically equal
    configuration, else the nearest earlier one with only power-neutral changes between; None if
    there is none of these. A newer visit to the same car is a further point, no replacement."""
    ordered = sorted(visits, key=lambda v: (v.session.date, v.owner.number or 1 << 30))
    own = [v for v in ordered if (v.owner.number, v.owner.id) == (target.number, target.id)]
    for visit in (*reversed(own), *reversed(ordered)):
        found = _fits(target, visit, neutral=False)
        if found:
            return found
    limit = target.number or 1 << 30
    for visit in reversed([v for v in ordered if (v.owner.number or 1 << 30) <= limit]):
        found = _fits(target, visit, neutral=True)
        if found:
            return found
    return None


def _fits(target: Version, visit: Visit, neutral: bool) -> Match | None:
    wanted = target.configuration.calibration.id if target.configuration.calibration else None
    for calibration in reversed(visit.calibrations or (None,)):
        if calibration is not None and wanted is not None and calibration != wanted:
            continue
        moved = _unlike(target.configuration, visit.owner.configuration, calibration == wanted)
        if not moved:
            return Match(visit, calibration, True)
        if neutral and all(power_neutral(path) for path in moved):
            few = ", ".join(moved[:3]) + (", ..." if len(moved) > 3 else "")
            note = f"measured at {visit.owner.name}; since then only {few} changed"
            return Match(visit, calibration, False, note)
    return None


def _unlike(one: Configuration, other: Configuration, calibration_known: bool) -> list[str]:
    """Paths that differ or may; what the calibration says of itself goes with its id."""
    return [
        path
        for path in unlike(one, other)
        if not (calibration_known and assembly(path) == "calibration")
    ]


@dataclass(frozen=True)
class HistoryFiles:
    """Every carried-out list, fault and tightening record by name, and the dyno visits. A list that
    goes on with another holds what that one found.

    Which entry added which is said by the versions: `version.checks`, `.faults`, `.joints`. The
    joints of `sheets` are among `joints` too, by "SHEET/JOINT".
    """

    visits: Sequence[Visit] = ()
    checks: Mapping[str, Check] = field(default_factory=dict)
    faults: Mapping[str, Fault] = field(default_factory=dict)
    joints: Mapping[str, Joint] = field(default_factory=dict)
    sheets: Mapping[str, JointSheet] = field(default_factory=dict)
    services: Mapping[str, Service] = field(default_factory=dict)
    readings: Mapping[str, OdometerReading] = field(default_factory=dict)
    waits: Mapping[str, Waiting] = field(default_factory=dict)

    def joints_of(self, version: Version) -> list[str]:
        """The names of the tightened joints that came with a version, those of sheets included."""
        return joints_of(version, self.joints)

    def gone_on_with(self) -> set[str]:
        """The names of the lists that a later file goes on with, and holds."""
        named = (check.continues or "" for check in self.checks.values())
        return {name.removeprefix("checks/").removesuffix(".toml") for name in named if name}

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


def as_one(checks: Mapping[str, Check]) -> dict[str, Check]:
    """The carried-out lists by name; one that goes on with another holds what that one found, too.

    An item keeps its place; what the later file says of it counts, unless it is not done there.
    """
    made: dict[str, Check] = {}

    def whole(name: str, behind: frozenset[str]) -> Check:
        check = checks[name]
        before = (check.continues or "").removeprefix("checks/").removesuffix(".toml")
        if before not in checks or before in behind:
            return check
        if before not in made:
            made[before] = whole(before, behind | {name})
        items = {item.key: item for item in made[before].item}
        for item in check.item:
            if item.result != "not-done" or item.key not in items:
                items[item.key] = item
        return check.model_copy(update={"item": tuple(items.values())})

    for name in checks:
        made[name] = whole(name, frozenset({name}))
    return made


def joints_of(version: Version, joints: Mapping[str, Joint]) -> list[str]:
    """The names of the tightened joints that came with a version, those of sheets included."""
    return [name for name in joints if name.partition("/")[0] in version.joints]


def index_of(history: Sequence[Version], version: Version) -> int | None:
    """The index of a version; None if it is not in the history."""
    same = (i for i, v in enumerate(history) if v.number == version.number and v.id == version.id)
    return next(same, None)


def place(history: Sequence[Version], version: Version) -> int:
    """The index of a version; one that is not in the history stands at its end."""
    index = index_of(history, version)
    return len(history) - 1 if index is None else index
