"""What leaves with a handover and what stays, and what was made of it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from buildlog.findings import Finding


@dataclass(frozen=True)
class Probe:
    """One thing that was looked for, and where it was found."""

    name: str
    found: tuple[str, ...]


@dataclass(frozen=True)
class Leaving:
    """What leaves and what stays."""

    entries: int
    sessions: int
    attachments: int
    photos: int
    files: tuple[str, ...]
    references: tuple[str, ...]
    earlier: int  # versions of files that a later entry changed or took away
    gone: tuple[str, ...]  # files that a later entry took away; they leave all the same
    identifies: tuple[str, ...]  # fields that tell this car from every other
    unread: tuple[str, ...]  # files that are no text: nobody can search them
    stays: tuple[str, ...]
    probes: tuple[Probe, ...]

    @property
    def findings(self) -> list[Finding]:
        """A caution for each thing that was found."""
        hint = "what is recorded stays recorded: decide whether this history may leave"
        return [
            Finding("leaves-private", "caution", f"{probe.name}: {'; '.join(probe.found[:3])}"
                    + (f" and {len(probe.found) - 3} more" if len(probe.found) > 3 else ""),
                    hint=hint)
            for probe in self.probes
            if probe.found
        ]  # fmt: skip


@dataclass(frozen=True)
class HandoverMade:
    """The package: its folder and zip, the custody entry, what it holds."""

    folder: Path
    zip: Path
    number: int
    entry: int
    id: str
    fingerprint: str
    files: tuple[str, ...]
    bytes: int
    large: bool  # more than others read unasked
    no_pdf: str | None = None  # why the booklet has no PDF, where one was wanted


@dataclass(frozen=True)
class HandoverAnswer:
    """What leaves, in which state, and what was made; None where it was only looked at."""

    leaving: Leaving
    fingerprint: str
    made: HandoverMade | None = None
