"""Figures of sessions: a sheet's curves, its mixture and boost, and peaks over the car's life."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from buildlog.analysis.pulls.air_fuel import mean_lambda
from buildlog.analysis.pulls.pull_data import Floats
from buildlog.analysis.pulls.sag_report import boost_settings, mean_boost
from buildlog.analysis.pulls.sheet import PullGroup, Sheet
from buildlog.analysis.pulls.sheet_report import SheetReport
from buildlog.records.configuration import Configuration
from buildlog.report.as_text.sheet_text import air_words, headline
from buildlog.report.numbers import Display, axis_value
from buildlog.report.pictures.figures import FigureLine, Panel, Picture
from buildlog.report.pictures.power_pictures import X_LABELS

SMALL = 0.5  # height of a small panel
LEAST_BOOST = 5e3  # [Pa] below this nothing is charged, and the panel would show noise


@dataclass(frozen=True)
class Item:
    """One version as it is drawn: its name, its session, and the configuration measured."""

    name: str
    sheet: Sheet
    group: PullGroup
    configuration: Configuration


def sheet_picture(report: SheetReport, configuration: Configuration, show: Display) -> Picture:
    """A session's groups: power, torque, and small panels for mixture and boost."""
    sheet = report.sheet
    items = [
        Item(group.key or f"mean of {group.pulls}", sheet, group, configuration)
        for group in sheet.groups
    ]
    panels = [_curves(items, "power", show)]
    if any(group.torque is not None for group in sheet.groups):
        panels.append(_curves(items, "torque", show))
    for what in ("air-fuel", "boost"):
        panel = channel_panel(items, what, show)
        panels += [panel] if panel else []
    sags = "; ".join(
        f"sag at {axis_value(sag.at, sheet.axis)}, {100 * sag.depth:.1f} %"
        for sag in report.sags.sags
    )
    session = sheet.session
    where = f"{session.date}, {session.place or 'place not recorded'}; {air_words(sheet)}"
    return Picture(headline(sheet, show), where, X_LABELS[sheet.axis], tuple(panels), notes=sags)


def _curves(items: Sequence[Item], quantity: str, show: Display) -> Panel:
    unit = show.unit(quantity)
    lines = []
    for item in items:
        group, sheet = item.group, item.sheet
        values = group.mean if quantity == "power" else group.torque
        half = sheet.mean_half_width(group)
        if quantity == "torque":
            wide = sheet.torque_half_width(group)
            half = wide if wide is not None else half
        top = group.peak_power if quantity == "power" else group.peak_torque
        if values is None or top is None:
            continue
        marked = (top.at, top.value / unit.factor)
        lines.append(
            FigureLine(item.name, sheet.grid, values / unit.factor, half / unit.factor, marked)
        )
    title = f"{quantity} at the {items[0].sheet.at}, mean of the pulls with its 95 % band"
    small = 1.0 if quantity == "power" else 0.7
    return Panel(title, f"{quantity} [{unit.text}]", tuple(lines), from_zero=True, height=small)


def channel_history(items: Sequence[Item], what: str, show: Display) -> Picture | None:
    """Mixture or boost of several versions with their declared targets; None if none logs it."""
    panel = channel_panel(items, what, show)
    if panel is None:
        return None
    words = {"air-fuel": "mixture under full load", "boost": "boost under full load"}[what]
    names = [item.name for item in items]
    where = "; ".join(f"{item.name}: {item.sheet.name}, {item.group.pulls} pulls" for item in items)
    logged = [line.label for line in panel.lines if not line.target]
    missing = [name for name in names if name not in logged]
    note = f"none logged: {', '.join(missing)}" if missing else ""
    return Picture(
        f"{words}, {names[0]} to {names[-1]}" if len(names) > 1 else f"{words}, {names[0]}",
        where, X_LABELS[items[0].sheet.axis], (panel,), notes=note,
    )  # fmt: skip


def channel_panel(items: Sequence[Item], what: str, show: Display) -> Panel | None:
    """A small panel: the mean of the pulls, and the declared target as a thin line."""
    axis = items[0].sheet.axis if items else "engine_speed"
    unit = show.unit("pressure")
    factor = unit.factor if what == "boost" else 1.0
    found = [(item, _channel(item, what)) for item in items if item.sheet.axis == axis]
    logged = [(item, values) for item, values in found if values is not None]
    owners: dict[tuple[str, float], list[str]] = {}
    for item, _ in logged:
        for target in _targets(item, what).items():
            owners.setdefault(target, []).append(item.name)
    lines: list[FigureLine] = []
    for item, values in logged:
        lines.append(FigureLine(item.name, item.sheet.grid, values / factor))
        for target, whose in owners.items():
            if whose[0] == item.name:  # a target of several is drawn once
                name = target[0] if len(whose) == len(logged) else f"{target[0]}, {whose[0]}"
                flat = np.where(np.isfinite(values), target[1] / factor, np.nan)
                owner = item.name if len(whose) == 1 else ""
                lines.append(FigureLine(name, item.sheet.grid, flat, target=True, owner=owner))
    if not lines:
        return None
    if what == "boost":
        return Panel("boost above ambient, mean of the pulls", f"boost [{unit.text}]",
                     tuple(lines), height=SMALL)  # fmt: skip
    return Panel("mixture, mean of the pulls (above 1 is lean)", "lambda", tuple(lines),
                 height=SMALL)  # fmt: skip


def _channel(item: Item, what: str) -> Floats | None:
    """Mean over a group's pulls on the sheet's grid; None where there is nothing to draw."""
    if what == "air-fuel":
        return mean_lambda(item.sheet, item.group)
    boost = mean_boost(item.sheet, item.group, item.sheet.grid)
    return None if boost is None or np.nanmax(boost) < LEAST_BOOST else boost


def _targets(item: Item, what: str) -> dict[str, float]:
    """Declared targets and settings, by the words that label them."""
    car, named = item.configuration, item.group.curves[0].data.pull.calibration
    table = car.calibration
    if what == "air-fuel":
        own = table and (named is None or table.id is None or named == table.id)
        if not own or table is None or table.lambda_full_load is None:
            return {}
        return {f"target {table.lambda_full_load:.2f}": table.lambda_full_load}
    control = car.induction.boost if car.induction else None
    found = {"target": control.target_gauge.si} if control and control.target_gauge else {}
    relief = boost_settings(car).get("relief")
    return found | ({"relief setting": relief} if relief is not None else {})


@dataclass(frozen=True)
class PeakPoint:
    """One measured peak: where the car stood, and the value with its half-width [W or N*m]."""

    name: str
    odometer: float | None
    date: dt.date
    value: float
    half: float


def peak_history(
    points: Sequence[PeakPoint], against: str, quantity: str, show: Display, conditions: str
) -> Picture:
    """Peaks against odometer or date: each a short bar with its 95 % band, never joined."""
    unit, place = show.unit(quantity), show.unit("length")
    first = min(point.date for point in points)
    if against == "date":
        spots = [float((point.date - first).days) for point in points]
        label = f"days since {first}"
    else:
        spots = [place.from_si(point.odometer or 0.0) for point in points]
        label = f"odometer [{place.text}]"
    reach = max(spots) - min(spots) or 1.0
    lines = []
    for x, point in zip(spots, points, strict=True):
        bar = np.array([x - 0.012 * reach, x + 0.012 * reach])
        flat = np.full(2, point.value / unit.factor)
        half = np.full(2, point.half / unit.factor)
        lines.append(FigureLine(point.name, bar, flat, half, (x, point.value / unit.factor)))
    words = "; ".join(f"{p.name} {show.value(p.value, quantity)} ({p.date})" for p in points)
    title = f"peak {quantity}, mean of the pulls with its 95 % band (scatter of the visit only)"
    panel = Panel(title, f"{quantity} [{unit.text}]", tuple(lines), from_zero=True)
    return Picture(words, conditions, label, (panel,))
