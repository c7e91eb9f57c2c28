"""What a look at the working folder found."""

from __future__ import annotations

from dataclasses import dataclass

from buildlog.analysis.car.missing import Missing
from buildlog.analysis.workshop.gates import Gate
from buildlog.findings import Finding


@dataclass(frozen=True)
class CheckReading:
    """How many files were read, what is wrong or doubtful in them, the gates that are closed,
    and what computations miss."""

    read: int
    findings: tuple[Finding, ...]
    gates: tuple[Gate, ...] = ()
    missing: tuple[Missing, ...] = ()
