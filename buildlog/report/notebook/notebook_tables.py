"""Answers as HTML for a notebook: the sentence that answers, then tables.

Words and figures are those of the text; every text from outside is escaped.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

from buildlog.analysis.answers.comparison import Diff
from buildlog.analysis.answers.look_answers import MarginsAnswer
from buildlog.analysis.answers.shop_tables import Facts, ShopStanding
from buildlog.analysis.car.changes import Change
from buildlog.analysis.pulls.measured import Measured
from buildlog.analysis.pulls.sheet import Sheet
from buildlog.analysis.pulls.sheet_report import SheetReport
from buildlog.findings import Finding, worst_first
from buildlog.records.key_words import key_words
from buildlog.report.as_text import (
    diff_text,
    history_text,
    margin_changes_text,
    margins_text,
    measured_text,
    sheet_text,
    shop_text,
)
from buildlog.report.as_text.changes_text import value_text
from buildlog.report.booklet.document import Block, Cell, Span, bullets, joined, para, table
from buildlog.report.booklet.html import fragment
from buildlog.report.numbers import Display, axis_value

if TYPE_CHECKING:
    from buildlog.store.ledger.entries import Entry


def pre_html(lines: Iterable[str]) -> str:
    """What has no table of its own: the text as it is printed."""
    from buildlog.report.booklet.document import Code

    return fragment([Code(tuple(lines))])


def diff_html(found: Diff, show: Display) -> str:
    """What changed, what was measured and predicted, what is left of each limit."""
    return fragment(_diff(found, show))


def _diff(found: Diff, show: Display) -> Iterator[Block]:
    sides = (diff_text.label(side, show) for side in (found.before, found.after))
    yield para(" → ".join(sides), tone="quiet")
    yield para(Span(diff_text.answer(found, show), "strong"))
    if found.measured is not None:
        yield _measured(found.measured, show)
    if found.predicted is not None:
        power = found.predicted.peak_power_delta
        low, high = (show.change(end, None, "power") for end in (power.p10, power.p90))
        lie = found.predicted.lies
        lies = f"; the measured peak lies {lie.where}" if lie else ""
        yield para(f"predicted from {found.before.name}: {low} to {high} (8 in 10){lies}")
    elif found.predicted_reason:
        yield para(f"not predicted: {found.predicted_reason}", tone="quiet")
    if found.changes:
        head = ("assembly", "field", "was", "now")
        yield table("Changed", head, [_change(change) for change in found.changes])
    if found.margins is not None:
        margins = found.margins.changes
        rows = [[one.name, *margin_changes_text.cells(one, show)[1:]] for one in margins]
        limits = ("limit", "was", "now", "state", "basis")
        yield table("Left of each limit", limits, rows, right=(1, 2))
    yield from _findings(found.findings)


def _change(change: Change) -> list[Cell]:
    words = change.words if change.made else joined(change.words, Span(" as found", "quiet"))
    values = (value_text(value, change.path) for value in (change.old, change.new))
    return [key_words(change.assembly), words, *values]


def _measured(found: Measured, show: Display) -> Block:
    rows = []
    for name, delta, dimension in measured_text.deltas(found):
        tops = (
            f"{show.value(top.value, dimension)} @ {axis_value(top.at, found.axis)}"
            for top in (delta.peak_from, delta.peak_to)
        )
        change = show.change(delta.peak_delta, delta.half_width_95, dimension)
        rows.append([name, *tops, change, measured_text.verdict(delta, found)])
    caption = f"Measured at the {found.at} ({measured_text.conditions(found)})"
    note = f"torque unknown: {found.torque_reason}" if found.torque is None else ""
    return table(caption, ("", "was", "now", "difference, 95 %", ""), rows, (1, 2, 3), note)


def sheet_html(report: SheetReport, show: Display) -> str:
    """One session: its answer, its pulls, what to look at."""
    sheet = report.sheet
    return fragment(
        [
            para(Span(sheet_text.headline(sheet, show), "strong")),
            *(para(line.strip(), tone="quiet") for line in sheet_text.condition_lines(sheet)),
            table("Pulls", ("pull", "peak power", "group", "counts"), _pulls(sheet, show), (1,)),
            *_findings(report.findings),
        ]
    )


def _pulls(sheet: Sheet, show: Display) -> Iterator[list[Cell]]:
    for curve in (*sheet.curves, *sheet.unused):
        peak = curve.peak(sheet.axis) if sheet.axis in curve.axis else None
        at = f"{show.value(peak.value, 'power')} @ {axis_value(peak.location, sheet.axis)}" if (
            peak) else "unknown"  # fmt: skip
        yield [curve.name, at, curve.data.group, "yes" if curve.data.pull.use else "no"]


def margins_html(found: MarginsAnswer, show: Display) -> str:
    """Every limit: what is asked of it, what it stands, what is left."""
    head = ("limit", "load", "limit", "left", "state", "basis")
    rows = []
    for one in found.rows:
        sides = (one.margin.demand, one.margin.capacity)
        figures = [margins_text.value(s.p50, one.kind, show) if s else "unknown" for s in sides]
        left = margins_text.left_words(one, show)
        basis = f"missing: {', '.join(one.ask[:3])}" if one.state.value == "unknown" else one.basis
        rows.append([one.name, *figures, left, one.state.value, basis])
    caption = f"{found.version.name}; {margins_text.power_words(found.subject, show)}"
    blocks = [table(caption, head, rows, (1, 2), margins_text.CAUTION)]
    return fragment([*blocks, *_findings(found.findings)])


def history_html(entries: Sequence[Entry], show: Display) -> str:
    """The entries, newest first."""
    if not entries:
        return fragment([para("nothing is recorded yet")])
    corrected = {entry.corrects for entry in entries if entry.corrects}
    head = ("", "id", "date", show.unit("length").text, "kind", show.unit("power").text, "what")
    rows = [
        [*history_text.row(one, show, one.id in corrected), history_text.what(one, True)]
        for one in reversed(entries)
    ]
    return fragment([table(history_text.headline(entries, show), head, rows, (3, 5))])


def shop_html(found: ShopStanding, show: Display) -> str:
    """One row a car, what needs attention first; then those that could not be read."""
    broken = [one for one in found.cars if one[1].get("problem")]
    read = [one for one in found.cars if not one[1].get("problem")]
    head = ("car", "folder", "stage", "since", "power", "tightest", "held up by")
    rows = [[facts["name"], folder, *_standing(facts, show)] for folder, facts in read]
    blocks: list[Block] = [table(shop_text.headline(read, broken), head, rows, (4,))]
    if broken:
        blocks.append(bullets(f"{folder}: {facts['problem']}" for folder, facts in broken))
    return fragment(blocks)


def _standing(facts: Facts, show: Display) -> list[Cell]:
    power = show.value(facts["last_power"], "power", 0) if facts["last_power"] else "-"
    where = [facts["stage"] or "-", facts["since"] or "unknown"]
    words = [shop_text.tightest_words(facts["tightest"], True), shop_text.held_words(facts, True)]
    return [*where, power, *words]


def _findings(findings: Sequence[Finding]) -> Iterator[Block]:
    if findings:
        yield bullets(
            joined(Span(f"{one.severity} ", "state"), f"{one.where}: " if one.where else "",
                   one.text, Span(f" {one.hint}" if one.hint else "", "quiet"))
            for one in worst_first(findings)
        )  # fmt: skip
