"""Which two versions a diff is about, and everything that is known of the two."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from buildlog.analysis.answers.comparison import Diff, collected, mechanical, replaced, standing
from buildlog.analysis.car.changes import physically_equal, power_neutral
from buildlog.analysis.car.history_files import Match, match
from buildlog.analysis.car.version import Version
from buildlog.analysis.pulls.measured import Measured
from buildlog.desk.questions.two_powers import two_powers
from buildlog.errors import BuildlogError, NotFound
from buildlog.findings import Finding

if TYPE_CHECKING:
    from buildlog.analysis.answers.plan_result import BuiltPlan
    from buildlog.desk.questions.predict import Predictor
    from buildlog.desk.snapshot.snapshot import Snapshot


def diff(
    book: Snapshot,
    before: str | Version | None = None,
    after: str | Version | None = None,
    standard: str | None = None,
) -> Diff:
    """The whole comparison of two versions by their names; without names, what changed since the
    last dyno."""
    return difference(book, *_pair(book, before, after), standard)


def _pair(
    book: Snapshot, before: str | Version | None, after: str | Version | None
) -> tuple[Version, Version, str | None]:
    """The two versions, and why these two where nobody named them."""
    if before and after:
        return book.version(before), book.version(after), None
    if before:
        return book.version(before), _newest(book), None
    if not book.history:
        raise NotFound(
            "nothing is recorded yet, so there is nothing to compare",
            hint='buildlog record -m "as it came" --kind found',
        )
    measured_at = book.measured_versions
    newest = _newest(book)
    if measured_at and not physically_equal(measured_at[-1].configuration, newest.configuration):
        return measured_at[-1], newest, f"since the last dyno ({measured_at[-1].name})"
    if len(measured_at) > 1:
        return measured_at[-2], measured_at[-1], "the two newest versions with dyno sessions"
    how_many = "no dyno session" if not measured_at else "one dyno session only"
    return book.version("first"), newest, f"{how_many} in this ledger: nothing to compare"


def gained(book: Snapshot) -> tuple[Version, Version, Measured] | None:
    """What was measured between the first version and the newest that can honestly be set against
    it; None where there are no two."""
    known = book.measured_versions
    for version in reversed(known[1:]):
        result, _, _ = _measured(book, known[0], version, None)
        if result is not None and result.comparable:
            return known[0], version, result
    return None


def difference(
    book: Snapshot, before: Version, after: Version, why: str | None, standard: str | None = None
) -> Diff:
    """The whole comparison of two versions."""
    result, reason, findings = _measured(book, before, after, standard)
    history = book.until_now if after.number == 0 else book.history
    found = Diff(
        before,
        after,
        tuple(mechanical(book.history, before, after)),
        result,
        reason,
        tuple(replaced(history, before, after)),
        findings=collected(
            [
                *standing(history, book.papers, before, after),
                *two_powers(book, _sessions_of(book, before, after)),
                *findings,
            ]
        ),
        why_these=why,
    )
    found = replace(found, built=_built(book, before, after, standard))
    return with_margins(book, with_prediction(book, found, standard))


def _built(
    book: Snapshot, before: Version, after: Version, standard: str | None
) -> BuiltPlan | None:
    """The plan that one of the two is and the other holds, with what the work gave."""
    if not (before.plan or after.plan):
        return None
    from buildlog.desk.questions.built_plans import built_plan

    found = built_plan(book, before, after)
    if found is None or found.start is None:
        return found and replace(found, reason="the quote rests on no measured curve")
    result, reason, _ = _measured(book, found.start, found.end, standard)
    return replace(found, result=result, reason=reason)


def _sessions_of(book: Snapshot, *versions: Version) -> list[str]:
    """The sessions that measured one of these versions."""
    ids = {one.id or one.name for one in versions}
    return [one.name for one in book.visits if (one.owner.id or one.owner.name) in ids]


def with_margins(book: Snapshot, found: Diff) -> Diff:
    """The comparison with what is left of each limit, before and after."""
    from buildlog.analysis.margins.margin_changes import margin_changes
    from buildlog.desk.questions.limits import limits_of

    sides = (found.before, found.after)
    try:
        margining = limits_of(book)
        why = [text for side in sides if (text := margining.unknown(side)) is not None]
        before, after = (margining.rows(side) for side in sides)
    except BuildlogError as error:  # a broken priors.toml must not hide what was measured
        said = Finding("no-margins", "caution", f"no margins: {error.what}", (), error.where)
        return replace(found, findings=collected([*found.findings, said]))
    return replace(found, margins=margin_changes(before, after, why))


def with_prediction(book: Snapshot, found: Diff, standard: str | None) -> Diff:
    """The comparison with its predicted block, or the sentence why there is none."""
    if all(power_neutral(change.path) for change in found.changes):
        return found
    from buildlog.analysis.prediction.predicted import beside_measured

    predictor = _predictor(book, found, standard)
    try:
        start = predictor.start(found.before, estimate=False)
        result = predictor.predict(found.before, found.after, start=start)
    except BuildlogError as error:
        return replace(found, predicted_reason=error.what)
    if found.measured is not None:
        result = beside_measured(result, found.measured)
    return replace(found, predicted=result)


def _predictor(book: Snapshot, found: Diff, standard: str | None) -> Predictor:
    """The book's own; one apart where the two were compared by another standard than it uses."""
    from buildlog.analysis.prediction.learned import MeasuredPoint
    from buildlog.desk.questions.predict import Predictor, predictor_of

    result = found.measured
    if result is None or all(book.sheet(one.name, standard) is one for one in result.sheets):
        return predictor_of(book, standard)
    apart = Predictor(book, standard)
    for side in zip((found.before, found.after), result.sheets, result.groups, strict=True):
        apart.remember(MeasuredPoint(*side))
    return apart


def _newest(book: Snapshot) -> Version:
    """Working where it differs from the newest entry, else that entry."""
    if not book.history:
        return book.working
    newest = book.history[-1]
    working = book.working
    same = working.configuration == newest.configuration and not working.sessions
    return newest if same else working


def _measured(
    book: Snapshot, before: Version, after: Version, standard: str | None
) -> tuple[Measured | None, str | None, list[Finding]]:
    findings: list[Finding] = []
    matches: list[Match] = []
    for version in (before, after):
        found = match(version, book.visits)
        if found is None:
            return None, f"no dyno session measured {version.name}", findings
        if found.note:
            findings.append(Finding("nearest-session", "note", f"{version.name}: {found.note}"))
        matches.append(found)
    same = matches[0].visit.name == matches[1].visit.name
    if same and matches[0].calibration == matches[1].calibration:
        return None, f"both were measured in one session ({matches[0].visit.name})", findings
    from buildlog.desk.questions.visits import compared, one_high_place

    sheets, groups = [], []
    for found in matches:
        try:
            sheet = book.sheet(found.visit.name, standard)
        except BuildlogError as error:
            place = f"{error.where}: " if error.where else ""
            return None, f"session {found.visit.name}: {place}{error.what}", findings
        sheets.append(sheet)
        groups.append(sheet.group(found.calibration))
        findings += [f for f in sheet.findings if f.severity != "note"]
    if standard is None and one_high_place(sheets[0], sheets[1]):
        text = f"both measured at {sheets[0].session.altitude} in one place: observed power"
        in_observed = _measured(book, before, after, "none")
        return *in_observed[:2], [Finding("altitude", "note", text), *in_observed[2]]
    if groups[0] is None or groups[1] is None:
        return None, "declared, scatter not known: only stated values exist on one side", findings
    result = compared(book, (sheets[0], groups[0]), (sheets[1], groups[1]), standard)
    if isinstance(result, str):
        return None, result, findings
    return result, None, findings + _not_alike(result)


def _not_alike(result: Measured) -> list[Finding]:
    return [
        Finding(
            "not-like-for-like",
            "note" if result.comparable else "caution",
            f"not like for like: {reason}",
        )
        for reason in result.reasons
    ]
