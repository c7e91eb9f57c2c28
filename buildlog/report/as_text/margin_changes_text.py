"""The block of a diff that says what is left of each limit, was and now."""

from __future__ import annotations

from buildlog.analysis.margins.figures.margin_rows import Row
from buildlog.analysis.margins.margin_changes import MarginChange, MarginChanges
from buildlog.report.as_text.margins_text import distance, left_words
from buildlog.report.lines import shorten, table, wrap
from buildlog.report.numbers import Display

FEW = 5  # rows on a diff's screen


def margin_block(found: MarginChanges, show: Display, full: bool = False) -> list[str]:
    """Tightest first; without `full` what is over or close, and what leads the list."""
    shown = found.changes if full else _few(found)
    head = ["left of the limit", "was", "now", "state", "basis"]
    rows = [head, *(cells(change, show) for change in shown)]
    lines = table(rows, right=(1, 2), indent=0) if shown else ["left of the limit: unknown"]
    tighter, rest = len(found.tighter), len(found.changes) - len(shown)
    said = [f"{tighter} of {len(found.changes)} got tighter"]
    if found.first is not None:
        said.insert(0, f"reached first: {found.first.name}, {left_words(found.first, show)}")
    if rest:
        said.append(f"{rest} more: --full")
    lines += wrap("; ".join(said), 4, 2)
    for why in found.why_unknown:
        lines += wrap(f"power unknown: {why}", 4, 2)
    return lines


def _few(found: MarginChanges) -> tuple[MarginChange, ...]:
    """Of those that tell: all that are over, and the first others up to a few."""
    telling = found.telling()
    over = [c for c in telling if _now(c) == "over"]
    others = sorted((c for c in telling if c not in over), key=_quiet)
    chosen = [*over, *others[: max(FEW - len(over), 0)]]
    return tuple(change for change in telling if change in chosen)


def _quiet(change: MarginChange) -> int:
    """Close before another state that is new, that before what is as it was."""
    if _now(change) == "close":
        return 0
    return 1 if change.state_changed else 2


def _now(change: MarginChange) -> str:
    return change.after.state.value if change.after is not None else "gone"


def cells(change: MarginChange, show: Display) -> list[str]:
    """Name, left before, left after, state, basis."""
    was, now = (_left(side, show) for side in (change.before, change.after))
    return [shorten(change.name, 28), was, now, _state(change), _basis(change)]


def _left(one: Row | None, show: Display) -> str:
    if one is None:
        return "-"
    left = one.margin.left
    return "unknown" if left is None else distance(left.p50, one.kind, show)


def _state(change: MarginChange) -> str:
    """The later state; where it was another one, that too."""
    if change.after is None:
        return "gone"
    if change.before is None or not change.state_changed:
        return change.after.state.value
    return f"{change.before.state.value} to {change.after.state.value}"


def _basis(change: MarginChange) -> str:
    one = change.after or change.before
    return one.basis if one is not None else ""
