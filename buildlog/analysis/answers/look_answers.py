"""What a look at a version found: all margins, what runs out first, or what is doubtful in it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from buildlog.analysis.car.missing import Missing
from buildlog.analysis.workshop.gates import Gate
from buildlog.findings import Finding

if TYPE_CHECKING:
    from buildlog.analysis.car.version import Version
    from buildlog.analysis.margins.figures.margin_car import Subject
    from buildlog.analysis.margins.figures.margin_rows import Row
    from buildlog.analysis.margins.first_reached import Room
    from buildlog.findings import Finding


@dataclass(frozen=True)
class MarginsAnswer:
    """All margins of a version, tightest first; what they were asked for; what to look at."""

    version: Version
    subject: Subject
    rows: tuple[Row, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class HeadroomAnswer:
    """What runs out first when a version's power is raised, and what to look at."""

    version: Version
    room: Room
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class CheckReading:
    """How many files were read, what is wrong or doubtful in them, the gates that are closed,
    and what computations miss."""

    read: int
    findings: tuple[Finding, ...]
    gates: tuple[Gate, ...] = ()
    missing: tuple[Missing, ...] = ()
