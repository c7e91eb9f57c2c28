"""Plans side by side: what is left of each limit, and what becomes of the owner's."""

from __future__ import annotations

from collections.abc import Sequence

from buildlog.analysis.answers.plan_offers import PlanOffer, limits_worth_showing
from buildlog.analysis.margins.figures.margin_rows import Row, State
from buildlog.analysis.margins.margin_changes import MarginChange
from buildlog.report.as_text.margins_text import distance
from buildlog.report.in_units import in_units
from buildlog.report.lines import PAGE, shorten, table
from buildlog.report.numbers import Display

_ABREAST = 4
_NAME, _PLAN = 24, 30


def limit_tables(offers: Sequence[PlanOffer], show: Display) -> list[str]:
    """Both tables; with more plans than fit beside each other, once for every few."""
    for abreast in range(_ABREAST, 1, -1):
        lines = _tables(offers, abreast, show)
        if max(map(len, lines), default=0) <= PAGE.width:
            return lines
    return _tables(offers, 1, show)


def _tables(offers: Sequence[PlanOffer], abreast: int, show: Display) -> list[str]:
    lines: list[str] = []
    for start in range(0, len(offers), abreast):
        few = offers[start : start + abreast]
        lines += [*_left(few, show), *_owners(few)]
    return lines


def _left(offers: Sequence[PlanOffer], show: Display) -> list[str]:
    """A row for each limit that presses on any of them, with what is left without them."""
    names = limits_worth_showing(offers)
    if not names:
        return []
    found = [{c.name: c for c in one.margins.changes} if one.margins else {} for one in offers]
    same = len({one.base.name for one in offers}) == 1
    head = ["left of the limit", *(["before"] if same else []), *_heads(offers)]
    rows = [head]
    for name in names:
        sides = [each.get(name) for each in found]
        now = [_before(sides, show)] if same else []
        rows.append([shorten(name, _NAME), *now, *(_with_plan(one, show) for one in sides)])
    return ["", *table(rows, right=tuple(range(1, len(head))), indent=0)]


def _heads(offers: Sequence[PlanOffer]) -> list[str]:
    return [shorten(one.name, _PLAN) for one in offers]


def _before(sides: Sequence[MarginChange | None], show: Display) -> str:
    return next((_cell(one.before, show) for one in sides if one and one.before), "-")


def _with_plan(change: MarginChange | None, show: Display) -> str:
    return _cell(change.after, show) if change is not None else "-"


def _cell(one: Row | None, show: Display) -> str:
    """ "17 %", "5 % close", "-15 % over"."""
    if one is None:
        return "-"
    left = one.margin.left
    if left is None:
        return "unknown"
    word = "" if one.state is State.CLEAR else f" {one.state.value}"
    return f"{distance(left.p50, one.kind, show)}{word}"


def _owners(offers: Sequence[PlanOffer]) -> list[str]:
    """A row for each limit the owner stated."""
    names = list(dict.fromkeys(limit.name for one in offers for limit in one.limits))
    if not names:
        return []
    rows = [["the owner's limits", *_heads(offers)]]
    for name in names:
        said = [{limit.name: limit.verdict.value for limit in one.limits} for one in offers]
        rows.append([shorten(in_units(name), _NAME), *(each.get(name, "-") for each in said)])
    return ["", *table(rows, right=tuple(range(1, len(rows[0]))), indent=0)]
