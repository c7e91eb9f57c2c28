"""What a comparison of two versions has to point at, beside what changed: the calibration that no
longer belongs, pulls made too early, facts for local codes; and the parts that came and went."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from buildlog.analysis.answers.comparison import Replaced
from buildlog.analysis.car import legal
from buildlog.analysis.car.history_files import HistoryFiles, index_of, place
from buildlog.analysis.car.version import Version
from buildlog.analysis.workshop import calibration_match
from buildlog.analysis.workshop.gates import pull_findings
from buildlog.analysis.workshop.partlife import Ages, PartLife
from buildlog.findings import Finding


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
    """Parts that one of the two versions has and the other has not, with the distance on them."""
    until = _until(history, after)
    ages = Ages(until)
    start, end = place(history, before), len(until) - 1
    old, new = ages.at(min(start, end)), ages.at(end)
    gone = [life for life in old if not _among(life, new)]
    came = [life for life in new if not _among(life, old)]
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


def _among(life: PartLife, others: Sequence[PartLife]) -> bool:
    return any(other.path == life.path and other.first_seen is life.first_seen for other in others)
