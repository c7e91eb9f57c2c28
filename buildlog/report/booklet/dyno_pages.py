"""The dyno history: what was measured on which version, as a table and as curves."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np

from buildlog.analysis.pulls.measured import Measured
from buildlog.analysis.pulls.sheet import PullGroup, Sheet
from buildlog.report.booklet import document as doc
from buildlog.report.booklet.content import BookletContent, DynoVisit
from buildlog.report.booklet.life import life_figure
from buildlog.report.booklet.words import short
from buildlog.report.numbers import Display, axis_value, plain

if TYPE_CHECKING:
    from buildlog.report.pictures.figures import Picture

_CURVES = 6  # more cannot be told apart in grey
_ROWS = 9  # of a figure's table
_FLAT = 0.72  # of a panel's usual height
Item = tuple[str, Sheet, PullGroup]


def dyno_section(content: BookletContent, show: Display) -> doc.Section | None:
    """The section, or nothing where the car was never on a dyno."""
    if not content.readings:
        return None
    return doc.Section("dyno-history", "Dyno history", tuple(_blocks(content, show)), new_page=True)


def _blocks(content: BookletContent, show: Display) -> Iterator[doc.Block]:
    yield doc.para(
        "Every visit to a dyno, oldest first. Power is worked out anew from the raw files, which "
        "are in this package; ± is the 95 % half-width of the mean of the pulls."
    )
    yield _visits(content.readings, show)
    stated = [_stated(one) for one in content.readings if one.sheet and one.sheet.session.stated]
    rows = [row for some in stated for row in some]
    if rows:
        yield doc.table(
            "Stated values (declared: no raw file exists, scatter not known)",
            ("session", "quantity", "value", "source"), rows, right=(2,),
        )  # fmt: skip
    life = life_figure(content, show)
    if life is not None:
        yield life
    items = drawable(content.readings)
    if items:
        yield history_figure(items, None, show)
        left_out = [one for one in content.readings if one.group and one.session not in
                    {sheet.name for _, sheet, _ in items}]  # fmt: skip
        if left_out:
            names = ", ".join(one.session for one in left_out)
            yield doc.para(f"Not drawn here, being on another axis or beyond {_CURVES} curves: "
                       f"{names}.", tone="quiet")  # fmt: skip


def _visits(readings: Sequence[DynoVisit], show: Display) -> doc.PageTable:
    unit = show.unit("power").text
    rows: list[list[doc.Cell]] = []
    for one in readings:
        visit: list[doc.Cell] = [one.session, short(one.version)]
        if one.sheet is None or one.group is None:
            rows.append(
                [*visit, "", "", "", doc.Span(one.problem or "stated values only", "quiet")]
            )
            continue
        rows.append([*visit, *_measured(one.sheet, one.group, show)])
    return doc.table(
        "Visits", ("session", "version", f"peak power [{unit}]", "at", "pulls", "conditions"),
        rows, right=(2, 3, 4),
    )  # fmt: skip


def _measured(sheet: Sheet, group: PullGroup, show: Display) -> list[doc.Cell]:
    unit = show.unit("power")
    half = sheet.peak_half_width(group) / unit.factor
    top = group.peak_power
    said = {"none": "observed, uncorrected", "unknown": "correction unknown"}
    dyno = sheet.session.dyno.id if sheet.session.dyno and sheet.session.dyno.id else "not named"
    gear = f", gear {sheet.session.gear}" if sheet.session.gear else ""
    return [
        f"{show.number(top.value, 'power')} ± {plain(half, 1)}",
        axis_value(top.at, sheet.axis),
        str(group.pulls),
        f"{said.get(sheet.standard, sheet.standard)}; at the {sheet.at}; dyno {dyno}{gear}",
    ]


def _stated(one: DynoVisit) -> list[list[doc.Cell]]:
    assert one.sheet is not None
    return [
        [
            one.session,
            f"{stated.quantity} at the {stated.measured_at}" if stated.measured_at
            else stated.quantity,
            str(stated.value),
            stated.source or "not said",
        ]
        for stated in one.sheet.session.stated
    ]  # fmt: skip


def drawable(readings: Sequence[DynoVisit]) -> list[Item]:
    """The curves that fit on one axis, one a version, the first and the newest among them."""
    found = [(one, one.sheet, one.group) for one in readings if one.sheet and one.group]
    by_speed = [item for item in found if item[1].axis == "engine_speed"]
    chosen = by_speed or found
    newest = {one.version.number: (one.version.name, sheet, group) for one, sheet, group in chosen}
    items = [newest[number] for number in sorted(newest)]
    return items if len(items) <= _CURVES else [items[0], *items[-(_CURVES - 1) :]]


def history_figure(
    items: Sequence[Item], comparison: Measured | None, show: Display
) -> doc.PageFigure:
    """Curves of several versions, with the sentence and the table that stand for them: power,
    and below it their torque, or the difference of the two that are compared."""
    import matplotlib

    from buildlog.report.pictures.figures import draw, render, rounded

    with matplotlib.rc_context({"text.parse_math": False}):  # a dollar is a dollar
        svg = rounded(render(draw(_picture(items, comparison, show)), "svg", letters=True))
    names = "-".join(name.replace(" ", "-") for name, _, _ in (items[0], items[-1]))
    tables = [curve_table(items, comparison, show, "power")]
    known = [item for item in items if item[2].torque is not None]
    if comparison is None and known:
        tables.append(curve_table(known, None, show, "torque"))
    axis = "engine" if items[0][1].axis == "engine_speed" else "road"
    return doc.PageFigure(
        f"power-{names}" if comparison else "power-history",
        svg,
        f"Curves of power against {axis} speed for {', '.join(name for name, _, _ in items)}. "
        f"{_alt(items, show)} The numbers are in the table below.",
        "Power and torque across versions, mean of the pulls with its 95 % band"
        if not comparison
        else "Power before and after, and the difference with its 95 % band",
        tuple(tables),
    )


def _picture(items: Sequence[Item], comparison: Measured | None, show: Display) -> Picture:
    """The panels, flat enough that the figure is as wide as the page."""
    from buildlog.report.pictures.power_pictures import power_history

    picture = power_history(items, comparison, show)
    panels = picture.panels
    known = [item for item in items if item[2].torque is not None]
    if comparison is None and known:
        panels += power_history(known, None, show, "torque").panels
    flat = tuple(dataclasses.replace(one, height=_FLAT * one.height) for one in panels)
    return dataclasses.replace(picture, panels=flat)


def _alt(items: Sequence[Item], show: Display) -> str:
    said = []
    for name, sheet, group in items:
        top = group.peak_power
        said.append(f"{name} peaks at {show.value(top.value, 'power')} "
                    f"at {axis_value(top.at, sheet.axis)}.")  # fmt: skip
    return " ".join(said)


def curve_table(
    items: Sequence[Item], comparison: Measured | None, show: Display, quantity: str
) -> doc.PageTable:
    """The curves at some speeds, as numbers."""
    unit = show.unit(quantity)
    axis = items[0][1].axis
    low = max(float(sheet.grid[np.isfinite(group.mean)][0]) for _, sheet, group in items)
    high = min(float(sheet.grid[np.isfinite(group.mean)][-1]) for _, sheet, group in items)
    step = 500.0 if axis == "engine_speed" else 20.0
    places = np.arange(np.ceil(low / step) * step, high + 1e-9, step)[: 2 * _ROWS]
    curves = [(s.grid, g.mean if quantity == "power" else g.torque) for _, s, g in items]
    columns = [np.interp(places, grid, curve) for grid, curve in curves if curve is not None]
    head = [axis.replace("_", " "), *(name for name, _, _ in items)]
    rows = [
        [axis_value(float(at), axis), *(plain(float(c[i]) / unit.factor, 1) for c in columns)]
        for i, at in enumerate(places)
    ]
    if comparison is not None and quantity == "power":
        head += ["difference", "±"]
        delta = np.interp(places, comparison.grid, comparison.delta)
        half = np.interp(places, comparison.grid, comparison.half_width)
        for i, row in enumerate(rows):
            row += [f"{delta[i] / unit.factor:+.1f}", plain(float(half[i]) / unit.factor, 1)]
    right = tuple(range(len(head)))
    names = " and ".join(dict.fromkeys((items[0][0], items[-1][0])))
    return doc.table(f"{quantity.capitalize()} [{unit.text}], {names}", head, rows, right=right)
