"""What a version asks of its limits: all margins, or what runs out first."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

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
