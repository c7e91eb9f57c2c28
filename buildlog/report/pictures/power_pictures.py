"""What the figures show: sheets and comparisons laid out as panels in display units."""

from __future__ import annotations

from collections.abc import Sequence

from buildlog.analysis.pulls.measured import Measured
from buildlog.analysis.pulls.sheet import PullGroup, Sheet
from buildlog.report.as_text.measured_text import headline
from buildlog.report.numbers import Display, axis_value
from buildlog.report.pictures.figures import FigureLine, Panel, Picture

X_LABELS = {"engine_speed": "engine speed [rpm]", "road_speed": "road speed [km/h]"}


def power_history(
    items: Sequence[tuple[str, Sheet, PullGroup]],
    comparison: Measured | None,
    show: Display,
    quantity: str = "power",
) -> Picture:
    """Mean curves of several versions with their bands, and the difference of two below."""
    unit = show.unit(quantity)
    lines = []
    for name, sheet, group in items:
        values = group.mean if quantity == "power" else group.torque
        top = group.peak_power if quantity == "power" else group.peak_torque
        if values is None or top is None:
            continue
        relative = sheet.mean_half_width(group) / group.mean
        lines.append(
            FigureLine(
                name,
                sheet.grid,
                values / unit.factor,
                relative * values / unit.factor,
                (top.at, top.value / unit.factor),
            )
        )
    axis = items[0][1].axis if items else "engine_speed"
    at = items[0][1].at if items else "wheels"
    panels = [
        Panel(
            f"{quantity} at the {at}, mean of the pulls with its 95 % band at each point",
            f"{quantity} [{unit.text}]",
            tuple(lines),
            from_zero=True,
        )
    ]
    if comparison is not None and quantity == "power":
        panels.append(_difference(comparison, show, [name for name, _, _ in items]))
    return Picture(
        f"{items[-1][0]} against {items[0][0]}: {headline(comparison, show)}"
        if comparison
        else _peaks(items, show, quantity),
        _conditions(items),
        X_LABELS[axis],
        tuple(panels),
    )


def _difference(result: Measured, show: Display, names: list[str]) -> Panel:
    unit = show.unit("power")
    line = FigureLine(
        f"{names[-1]} minus {names[0]}",
        result.grid,
        result.delta / unit.factor,
        result.half_width / unit.factor,
    )
    return Panel(
        f"difference, {names[-1]} minus {names[0]}, with its 95 % band at each point",
        f"difference [{unit.text}]",
        (line,),
        zero_line=True,
        height=0.55,
    )


def _peaks(items: Sequence[tuple[str, Sheet, PullGroup]], show: Display, quantity: str) -> str:
    words = []
    for name, sheet, group in items:
        top = group.peak_power if quantity == "power" else group.peak_torque
        if top is not None:
            words.append(
                f"{name} {show.value(top.value, quantity)} @ {axis_value(top.at, sheet.axis)}"
            )
    return "; ".join(words) if len(words) < 4 else f"{len(words)} versions: peak {quantity}"


def _conditions(items: Sequence[tuple[str, Sheet, PullGroup]]) -> str:
    """The standard, the machines, and what was recovered: nothing to be guessed."""
    standards = list(dict.fromkeys(sheet.standard for _, sheet, _ in items))
    said = {"none": "observed power, no correction", "unknown": "correction unknown"}
    parts = [" / ".join(said.get(standard, f"corrected by {standard}") for standard in standards)]
    gears = {sheet.session.gear for _, sheet, _ in items}
    if len(gears) == 1 and None not in gears:
        parts.append(f"gear {gears.pop()}")
    dynos = list(
        dict.fromkeys(
            s.session.dyno.id if s.session.dyno and s.session.dyno.id else "not named"
            for _, s, _ in items
        )
    )
    parts.append(f"dyno {', '.join(dynos)}")
    recovered = [
        name for name, s, _ in items if any(c.speed.state == "recovered" for c in s.curves)
    ]
    if recovered:
        parts.append(f"engine speed recovered from road speed: {', '.join(recovered)}")
    pulls = ", ".join(f"{name} {group.pulls}" for name, _, group in items)
    return f"{'; '.join(parts)}\npulls: {pulls}"
