"""Margins: what is left of each limit, tightest first, on which basis."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from buildlog.analysis.margins.figures.margin_rows import Row
from buildlog.records.checked_paths import FieldPath
from buildlog.report.as_text.margins_text import left_words, sentence, value
from buildlog.report.booklet.document import Block, Cell, Section, bullets, joined, para, table
from buildlog.report.booklet.words import NEUTRAL, field_words, state
from buildlog.report.numbers import Display, count

UNKNOWN = "unknown"
_FEW = 3
_FIRST = 4  # for the customer; the others are counted


def close_to_limit(rows: Sequence[Row], show: Display) -> Iterator[Block]:
    """For the customer: what is past or close to a limit, else the tightest; what is unknown."""
    counted = [one for one in rows if not one.kind.information]
    answers = [one for one in counted if one.state.value != UNKNOWN]
    told = [one for one in answers if one.state.value in ("over", "close")] or answers[:1]
    if told:
        yield bullets(_words(one, show) for one in told[:_FIRST])
        rest = [one.name for one in told[_FIRST:]]
        if rest:
            yield para(f"Close or past it as well: {', '.join(rest)}.")
        yield para("Each is the distance from a stated limit, no approval of any use. Close is a "
                   "reason to look, not a fault.", tone="quiet")  # fmt: skip
    unknown = [one.name for one in counted if one.state.value == UNKNOWN]
    if unknown:
        more = f" and {len(unknown) - 2 * _FEW} more" if len(unknown) > 2 * _FEW else ""
        yield para(
            f"Not known for {count(len(unknown), 'limit')}, because a figure is missing: "
            f"{', '.join(unknown[: 2 * _FEW])}{more}. Unknown does not mean clear.", tone="quiet",
        )  # fmt: skip


def margins_section(rows: Sequence[Row], show: Display) -> Section | None:
    """Every limit of the car today."""
    if not rows:
        return None
    lead = para(
        "How far each demand is from its limit. The state takes the worse end of the band: clear, "
        "close, over, or unknown where a figure is missing. These are distances from stated "
        "limits, not approvals."
    )
    counted = [one for one in rows if not one.kind.information]
    others = [one for one in rows if one.kind.information]
    tables = [_table("Limits, tightest first", counted, show)] if counted else []
    tables += [_table("For information: no limit of a part", others, show)] if others else []
    return Section("margins", "What is left of each limit", (lead, *tables))


def stage_margins(
    found: Sequence[tuple[Row | None, Row]], before: str, after: str, show: Display
) -> Iterator[Block]:
    """Limits that moved in a stage, and those that are close or past theirs."""
    rows: list[list[Cell]] = []
    same = 0
    for old, new in found:
        known = [one for one in (old, new) if one and one.state.value != UNKNOWN]
        if new.kind.information or not known:
            continue
        left = left_words(old, show) if old else NEUTRAL, left_words(new, show)
        if left[0] == left[1] and new.state.value == "clear":
            same += 1
            continue
        was = f"{old.state.value}, now " if old and old.state is not new.state else ""
        rows.append([new.name, *left, joined(was, state(new.state.value)), new.basis])
    if rows:
        note = f"{count(same, 'more limit is', 'more limits are')} clear and did not move." if (
            same) else ""  # fmt: skip
        yield table(f"Left of each limit, {before} and {after}",
                    ("limit", before, after, "state", "basis"), rows, note=note)  # fmt: skip


def asked(path: str) -> str:
    """What is missing, in words where it is a field: "exhaust limit value"."""
    return field_words(path) if isinstance(path, FieldPath) else path


def _words(one: Row, show: Display) -> Cell:
    return joined(state(one.state.value), f" {sentence(one, show)} ({one.basis}).")


def _table(caption: str, rows: Sequence[Row], show: Display) -> Block:
    body: list[list[Cell]] = []
    for one in rows:
        demand, capacity = one.margin.demand, one.margin.capacity
        lacks = ", ".join(map(asked, one.ask[:_FEW]))
        missing = f"missing: {lacks}" if one.state.value == UNKNOWN else ""
        body.append([
            one.name,
            value(demand.p50, one.kind, show) if demand else NEUTRAL,
            value(capacity.p50, one.kind, show) if capacity else NEUTRAL,
            left_words(one, show) if not missing else NEUTRAL,
            NEUTRAL if one.kind.information else state(one.state.value),
            missing or f"{one.demand.basis} against {one.capacity.basis}",
        ])  # fmt: skip
    return table(
        caption,
        ("limit", "asked of it", "limit stated", "left", "state", "basis"), body, right=(1, 2),
    )  # fmt: skip
