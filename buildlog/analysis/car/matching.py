"""Which dyno session, and which of its groups, measured a given configuration."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from buildlog.analysis.car.changes import power_neutral
from buildlog.analysis.car.version import Version
from buildlog.records.configuration import Configuration
from buildlog.records.paths import assembly, differences
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
    """The newest visit with a physically equal configuration, else the nearest earlier one
    with only power-neutral changes between; None if there is none of either."""
    ordered = sorted(visits, key=lambda v: (v.session.date, v.owner.number or 1 << 30))
    for visit in reversed(ordered):
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
        unlike = _unlike(target.configuration, visit.owner.configuration, calibration == wanted)
        if not unlike:
            return Match(visit, calibration, True)
        if neutral and all(power_neutral(path) for path in unlike):
            few = ", ".join(unlike[:3]) + (", ..." if len(unlike) > 3 else "")
            note = f"measured at {visit.owner.name}; since then only {few} changed"
            return Match(visit, calibration, False, note)
    return None


def _unlike(one: Configuration, other: Configuration, calibration_known: bool) -> list[str]:
    """Paths that differ; what the calibration says of itself goes with its id."""
    return [
        path
        for path, _, _ in differences(one, other)
        if not (calibration_known and assembly(path) == "calibration")
    ]
