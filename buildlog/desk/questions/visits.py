"""Sessions worked out, with all that is to be said of them, pooled and compared: by their names."""

from __future__ import annotations

from dataclasses import replace

from buildlog.analysis.pulls.measured import Measured, measured
from buildlog.analysis.pulls.relate import dyno_id
from buildlog.analysis.pulls.sheet import PullGroup, Sheet
from buildlog.analysis.pulls.sheet_report import SheetReport, sheet_report
from buildlog.analysis.pulls.sheet_work import group_of
from buildlog.analysis.pulls.stated_values import SessionComparison, compare_stated
from buildlog.desk.questions.dynos import another_day, relation
from buildlog.desk.questions.two_powers import two_powers
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import BuildlogError, InvalidInput, NotFound, UsageError
from buildlog.findings import worst_first
from buildlog.physics.numerics.repeatability import Scatter, combine_scatter

ENOUGH = 4  # degrees of freedom; visits further back are not asked once these are reached

Side = tuple[Sheet, PullGroup | None]


def last_visits(book: Snapshot, sheets: list[Sheet]) -> dict[str, Scatter]:
    """Scatter of the same dyno's nearest earlier visits, until there is enough of it."""
    ids = {s.session.dyno.id for s in sheets if s.session.dyno} - {None}
    own = {sheet.name for sheet in sheets}
    dof = sum(s.scatter.dof for s in sheets if s.scatter.basis == "measured")
    newest = max(sheet.session.date for sheet in sheets)
    found: dict[str, Scatter] = {}
    before = [v for v in book.visits if dyno_id(v) in ids and v.session.date <= newest]
    for visit in sorted(before, key=lambda v: v.session.date, reverse=True):
        if dof >= ENOUGH:
            break
        if visit.name in own or not visit.session.pull:
            continue
        try:
            scatter = book.sheet(visit.name).scatter
        except BuildlogError:
            continue  # a visit that cannot be read is named by its own sheet
        if scatter.basis == "measured":
            found[visit.name] = scatter
            dof += scatter.dof
    return found


def pooled(book: Snapshot, sheet: Sheet) -> Sheet:
    """The sheet with its scatter pooled over the dyno's last visits where it has little."""
    if not sheet.groups:
        return sheet
    more = last_visits(book, [sheet])
    scatter = combine_scatter([sheet.scatter, *more.values()])
    return replace(sheet, scatter=scatter, pooled_with=tuple(more)) if scatter and more else sheet


def compared(book: Snapshot, one: Side, other: Side, standard: str | None = None) -> Measured | str:
    """Two sides put together with all that is known of their machines."""
    sheets = [one[0], other[0]]
    ids = [s.session.dyno.id if s.session.dyno else None for s in sheets]
    dynos = None
    if ids[0] and ids[1] and ids[0] != ids[1]:
        dynos = relation(book, ids[0], ids[1], standard)
    if one[1] is None or other[1] is None:
        return "declared, scatter not known: only stated values exist on one side"
    days = None
    if ids[0] and ids[0] == ids[1] and sheets[0].session.date != sheets[1].session.date:
        days = another_day(book, ids[0])
    more = last_visits(book, sheets)
    return measured(
        one[0], other[0], (one[1], other[1]), earlier=list(more.values()), dynos=dynos, days=days
    )


def compare(
    book: Snapshot, first: str, second: str, standard: str | None = None
) -> SessionComparison:
    """The comparison of two sessions, groups or pulls by their names.

    At one high place, where the standard's limits are passed by height alone, observed power
    is compared unless a standard was asked for.
    """
    one, other = side_named(book, first, standard), side_named(book, second, standard)
    names, why = (first, second), None
    if standard is None and one_high_place(one[0], other[0]):
        factors = " and ".join(
            " to ".join(f"{factor:.3f}" for factor in sheet.factors())
            for sheet in (one[0], other[0])
        )
        why = (
            f"observed power is compared, as both were measured at {one[0].session.altitude} in "
            f"one place: {one[0].standard}'s factors {factors} are not applied"
        )
        one, other = side_named(book, first, "none"), side_named(book, second, "none")
    if one[1] is None or other[1] is None:
        points = compare_stated(one[0], other[0])
        if not points:
            raise _incomparable(names, "one side states no value that the other has too")
        return SessionComparison(names, None, tuple(points))
    result = compared(book, one, other, standard)
    if isinstance(result, str):
        raise _incomparable(names, result)
    return SessionComparison(names, result, (), why)


def _incomparable(names: tuple[str, str], why: str) -> InvalidInput:
    return InvalidInput(f"{names[0]} and {names[1]} cannot be compared: {why}")


def one_high_place(one: Sheet, other: Sheet) -> bool:
    """Whether both were measured at one place whose height alone passes the standard's limits."""
    place = one.session.place
    high = one.observed_is_better and other.observed_is_better
    return high and place is not None and place == other.session.place


def side_named(book: Snapshot, name: str, standard: str | None) -> Side:
    """What `session`, `session:calibration` or `session/pull` means."""
    session, mark, rest = name.partition("/") if "/" in name else name.partition(":")
    sheet = book.sheet(book.session_name(session or None), standard)
    if not mark:
        return sheet, sheet.kept
    return sheet, _pull(sheet, rest) if mark == "/" else _group(sheet, rest)


def _group(sheet: Sheet, name: str) -> PullGroup:
    known = [g for g in sheet.groups if g.key == name] or [
        g for g in sheet.groups if name and name in g.key
    ]
    if len(known) != 1:
        keys = ", ".join(g.key or "(without a name)" for g in sheet.groups)
        raise NotFound(
            f'"{name}" names {"no" if not known else "more than one"} group of {sheet.name}',
            hint=f"its groups: {keys or 'none'}",
        )
    return known[0]


def _pull(sheet: Sheet, name: str) -> PullGroup:
    curves = [*sheet.curves, *sheet.unused]
    known = [c for c in curves if c.name == name] or [c for c in curves if name and name in c.name]
    if len(known) != 1:
        raise NotFound(
            f'"{name}" names {"no" if not known else "more than one"} pull of {sheet.name}',
            hint=f"its pulls: {', '.join(c.name for c in curves) or 'none'}",
        )
    curve = known[0]
    if sheet.axis not in curve.axis:
        raise NotFound(f"{curve.name} has no {sheet.axis.replace('_', ' ')}")
    return group_of(curve.name, known, sheet.axis, sheet.grid)


def standard_named(text: str) -> str:
    """A power correction by any of its trade names; UsageError for one that is not known."""
    from buildlog.physics.gases import correction

    try:
        name = correction.standard_named(text)
    except ValueError as error:
        raise UsageError(str(error)) from None
    if name == "unknown":
        raise UsageError("nothing can be brought to an unknown standard")
    return name


def session_sheet(
    book: Snapshot, session: str | None = None, standard: str | None = None
) -> SheetReport:
    """A session by its name or enough of it to be unique; the newest without one."""
    name = book.session_name(session)
    sheet = pooled(book, book.sheet(name, standard))
    days = another_day(book, sheet.session.dyno.id if sheet.session.dyno else None)
    report = sheet_report(sheet, book.owner(name).configuration, days)
    findings = (*worst_first([*two_powers(book, [name]), *report.findings]),)
    return replace(report, findings=findings, beside=_beside(book, name))


def _beside(book: Snapshot, name: str) -> tuple[str, str] | None:
    """This session and the one before it by date; with the one after where it is the first."""
    order = sorted(book.session_places, key=lambda known: book.session(known).date)
    at = order.index(name)
    pair = order[max(at - 1, 0) : max(at - 1, 0) + 2]
    return (pair[0], pair[1]) if len(pair) == 2 else None
