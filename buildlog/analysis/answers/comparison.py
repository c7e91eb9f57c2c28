"""The comparison of two versions: the one object that every report of a diff reads, and what it
has to point at beside what changed: the calibration that no longer belongs, pulls made too early,
facts for local codes, and the parts that came and went."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from buildlog.analysis.car import legal
from buildlog.analysis.car.changes import Change, changes
from buildlog.analysis.car.history_files import HistoryFiles, index_of, place
from buildlog.analysis.car.version import Version
from buildlog.analysis.pulls.measured import Measured
from buildlog.analysis.workshop import calibration_match
from buildlog.analysis.workshop.gates import pull_findings
from buildlog.analysis.workshop.partlife import Ages
from buildlog.findings import Finding, worst_first
from buildlog.records.paths import differences

if TYPE_CHECKING:
    from buildlog.analysis.answers.plan_result import BuiltPlan
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
    measured curve; None without a reason where nothing that moves power changed. `built`: the
    plan that one of the two is, where the other holds it already.
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
    built: BuiltPlan | None = None


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


def standing(
    history: Sequence[Version], papers: HistoryFiles, before: Version, after: Version
) -> list[Finding]:
    """Findings for a comparison, calibration first. `history` holds both versions.

    A version that is not in the history (a plan) is taken to follow its last entry.
    """
    start, until = place(history, before), _until(history, after)
    found = calibration_match.mismatches(until, papers)
    found += pull_findings(until, _measured_between(history, papers, start, len(until) - 1))
    known = {fact.text for fact in legal.facts(history[: start + 1])}
    return found + [fact for fact in legal.facts(until) if fact.text not in known]


def replaced(history: Sequence[Version], before: Version, after: Version) -> list[Replaced]:
    """Parts that one of the two versions has and the other has not, with the distance on them: of
    a part that went, up to where it was taken out."""
    until = _until(history, after)
    ages = Ages(until)
    end = len(until) - 1
    start = min(place(history, before), end)
    gone = [ages.over(s) for s in ages.spans if s.first <= start <= s.last < end]
    came = [ages.over(s) for s in ages.spans if start < s.first and s.last == end]
    return [
        Replaced(
            life.path, life.since, life.fitted is None, life.distance, life.why_unknown, is_new
        )
        for lot, is_new in ((gone, False), (came, True))
        for life in lot
    ]


def _until(history: Sequence[Version], after: Version) -> list[Version]:
    index = index_of(history, after)
    if index is None:
        newest = history[-1]
        followed = replace(after, odometer=newest.odometer, odometer_text=newest.odometer_text)
        return [*history, followed]
    return list(history[: index + 1])


def _measured_between(
    history: Sequence[Version], papers: HistoryFiles, first: int, last: int
) -> HistoryFiles:
    """The papers with only the visits that measured a version from `first` to `last`."""
    visits = [visit for index, visit in papers.visits_in(history) if first <= index <= last]
    return replace(papers, visits=visits)
