"""The shop's picture: what each kind of change gave, and predicted against measured."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from buildlog.report.numbers import count
from buildlog.report.pictures import letters
from buildlog.report.pictures.frames import Frame, grid, gutter, labels, ticks, x_axis
from buildlog.report.pictures.look import SLOTS, WIDE, PageSizes
from buildlog.report.pictures.paper import Mark, Paper, Stroke, heading, notes, panel_title, shown

if TYPE_CHECKING:
    from buildlog.analysis.answers.shop_tables import Gains

Facts = Mapping[str, Any]


def shop_picture(
    table: Sequence[Gains], stages: Sequence[Facts], layout: PageSizes = WIDE
) -> Paper:
    """Gains by kind of change above; below, each stage's prediction against what was measured."""
    paper = Paper(layout)
    predicted = [stage for stage in stages if stage["predicted"]]
    heading(
        paper,
        _headline(table, predicted),
        "Change of peak power at the wheels, measured before and after, like for like.",
    )
    paper.description = "; ".join(f"{one.kind}: {100 * one.middle:+.1f} %" for one in table)
    _gains(paper, table, stages)
    note = "Dot: one stage. Line: their median."
    if predicted:
        _against(paper, table, predicted)
        note += (
            " Below: a point on the line came out as predicted; "
            "predicted figures are estimates, not approvals."
        )
    notes(paper, note)
    return paper


def _headline(table: Sequence[Gains], predicted: Sequence[Facts]) -> str:
    text = f"{count(sum(one.count for one in table), 'stage')} measured before and after"
    if not predicted:
        return f"{text}; none could be predicted"
    inside = sum(one["predicted"][0] <= one["ratio"] <= one["predicted"][2] for one in predicted)
    met = sum(map(_meet, predicted))
    many = count(len(predicted), "prediction")
    return (
        f"{text}; of {many} (8 in 10) {inside} hold the measured peak, {met} meet its 95 % interval"
    )


def _meet(one: Facts) -> bool:
    half = one["half_w"] / one["from_w"]
    low, _, high = one["predicted"]
    return bool(low <= one["ratio"] + half and one["ratio"] - half <= high)


def _gains(paper: Paper, table: Sequence[Gains], stages: Sequence[Facts]) -> None:
    layout, size = paper.layout, paper.layout.name
    panel_title(paper, "What each kind of change gave", "% of the power before")
    said = [shown(f"{one.kind} ({one.count})") for one in table]
    room = 0.42 * (layout.width - 2 * layout.margin)
    names = [letters.fitted(one, size, room) for one in said]
    left = layout.margin + max((letters.width(one, size) for one in names), default=0.0) + 20
    shares = [100 * (one["ratio"] - 1) for one in stages]
    low, high = min([0.0, *shares]), max([0.0, *shares])
    reach = (high - low or 1.0) * 0.04
    top = paper.y + 4
    frame = Frame(
        left,
        top,
        layout.width - layout.margin - 12,
        top + (len(table) + 0.2) * layout.row,
        low - reach,
        high + reach,
        0,
        1,
    )
    zero = frame.x(0)
    paper.put(Stroke(((zero, frame.top), (zero, frame.bottom)), "ink", 1.1))
    for row, (one, name) in enumerate(zip(table, names, strict=True)):
        y = top + (row + 0.6) * layout.row
        role = f"line{row % SLOTS}"
        paper.put(Stroke(((frame.left, y), (frame.right, y)), "grid", 0.8))
        paper.say(left - 12, y + 0.35 * size, name, size, anchor="end")
        middle = frame.x(100 * one.middle)
        paper.put(Stroke(((middle, y - 8), (middle, y + 8)), role, 2.4))
        for stage in stages:
            if stage["kind"] == one.kind:
                paper.put(Mark(frame.x(100 * (stage["ratio"] - 1)), y, 7, "ground", role, 1.6))
    values = ticks(frame.x0, frame.x1, (frame.right - frame.left) / (5 * layout.tick))
    x_axis(paper, frame, values, labels(values, True), "change of peak power, %")


def _against(paper: Paper, table: Sequence[Gains], stages: Sequence[Facts]) -> None:
    layout = paper.layout
    panel_title(paper, "Measured against predicted", "%; cross: 8 in 10 and the 95 % interval")
    kinds = [one.kind for one in table]
    spots = [
        (
            kinds.index(one["kind"]),
            [100 * (value - 1) for value in one["predicted"]],
            100 * (one["ratio"] - 1),
            100 * one["half_w"] / one["from_w"],
        )
        for one in stages
    ]
    xs = [v for _, band, _, _ in spots for v in band]
    ys = [v for _, _, found, half in spots for v in (found - half, found + half)]
    low, high = min([*xs, *ys, 0.0]), max([*xs, *ys, 0.0])
    room = (high - low or 1.0) * 0.05
    marks = ticks(low - room, high + room, layout.main / (3.6 * layout.tick))
    left, top = gutter(paper, [labels(marks, True)]), paper.y + 6
    frame = Frame(
        left,
        top,
        layout.width - layout.margin,
        top + layout.main,
        low - room,
        high + room,
        low - room,
        high + room,
    )
    grid(paper, frame, marks, signed=True)
    ends = (low - room, high + room)
    paper.put(Stroke(tuple((frame.x(end), frame.y(end)) for end in ends), "soft", 1.0))
    for row, (p10, p50, p90), found, half in spots:
        role, y = f"line{row % SLOTS}", frame.y(found)
        paper.put(Stroke(((frame.x(p10), y), (frame.x(p90), y)), role, 1.4))
        paper.put(
            Stroke(
                ((frame.x(p50), frame.y(found - half)), (frame.x(p50), frame.y(found + half))),
                role,
                1.4,
            )
        )
        paper.put(Mark(frame.x(p50), y, 7, role))
    values = ticks(*ends, (frame.right - frame.left) / (5 * layout.tick))
    x_axis(paper, frame, values, labels(values, True), "predicted change, %")
