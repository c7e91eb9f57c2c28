"""The comparison of two versions: the one object that every report of a diff reads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from buildlog.analysis.car.changes import Change, changes
from buildlog.analysis.car.version import Version
from buildlog.analysis.pulls.measured import Measured
from buildlog.findings import Finding, worst_first
from buildlog.records.paths import differences

if TYPE_CHECKING:
    from buildlog.analysis.margins.margin_changes import MarginChanges
    from buildlog.analysis.prediction.predicted import Predicted


@dataclass(frozen=True)
class Replaced:
    """A part that was in the car before and is not now, or the other way round (`came`).

    there_before: since when is not known, only that it was there before an entry.
    """

    path: str
    since: str
    there_before: bool
    distance: float | None
    why_unknown: str | None = None
    came: bool = False


@dataclass(frozen=True)
class Diff:
    """Two versions and what lies between them.

    `measured` is None with a reason where no two sessions can be put side by side.
    `findings` is what to look at, worst first. `predicted` starts from the earlier one's
    measured curve; None without a reason where nothing that moves power changed.
    """

    before: Version
    after: Version
    changes: tuple[Change, ...]
    measured: Measured | None
    measured_reason: str | None
    replaced: tuple[Replaced, ...] = ()
    findings: tuple[Finding, ...] = field(default=())
    why_these: str | None = None
    predicted: Predicted | None = None
    predicted_reason: str | None = None
    margins: MarginChanges | None = None


def mechanical(history: Sequence[Version], before: Version, after: Version) -> list[Change]:
    """The changes between two versions; those last changed in an entry of kind found are
    marked as found, not made."""
    first, last = sorted((before, after), key=_place)
    between = [v for v in history if _place(first) < _place(v) <= _place(last)]
    if last.number == 0:
        between.append(last)
    kinds: dict[str, str] = {}
    earlier = first
    for version in between:
        for path, _, _ in differences(earlier.configuration, version.configuration):
            kinds[path] = version.kind
        earlier = version
    return [
        replace(change, made=kinds.get(change.path) != "found")
        for change in changes(before.configuration, after.configuration)
    ]


def _place(version: Version) -> int:
    """Where a version stands in the order; working files and plans come last."""
    return version.number or 1 << 30


def collected(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Findings without repetition, worst first."""
    return tuple(worst_first(dict.fromkeys(findings)))
