"""Figures of what was measured beside power: mixture, boost, and peaks over the car's life."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from buildlog.desk.give.plotting import measured_items
from buildlog.errors import NotFound, UsageError
from buildlog.report.pictures.figures import draw, write

if TYPE_CHECKING:
    from buildlog.analysis.car.version import Version
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.report.numbers import Display
    from buildlog.report.pictures.sheet_pictures import Item


def draw_channel(
    book: Snapshot,
    versions: Sequence[Version],
    out: Path,
    standard: str | None,
    show: Display,
    what: str,
) -> list[str]:
    """Mixture or boost of the versions; sentences about those that could not be drawn."""
    from buildlog.report.pictures.sheet_pictures import channel_history

    items, missing = _items(book, versions, standard)
    picture = channel_history(items, what, show) if items else None
    if picture is None:
        raise NotFound(
            f"none of these versions has {what.replace('-', ' ')} in its files",
            why="; ".join(missing) or None,
            hint="name the column with --map when the files are added",
        )
    write(draw(picture), out)
    return missing


def _items(
    book: Snapshot, versions: Sequence[Version], standard: str | None
) -> tuple[list[Item], list[str]]:
    from buildlog.report.pictures.sheet_pictures import Item

    items, missing = measured_items(book, versions, standard)
    return [
        Item(name, sheet, group, book.owner(sheet.name).configuration)
        for name, sheet, group in items
    ], missing


def draw_peaks(
    book: Snapshot,
    versions: Sequence[Version],
    out: Path,
    standard: str | None,
    show: Display,
    quantity: str,
    against: str,
) -> list[str]:
    """Peaks of the versions over odometer or date; sentences about those left out."""
    from buildlog.report.pictures.sheet_pictures import PeakPoint, peak_history

    if quantity not in ("power", "torque"):
        raise UsageError(
            f"--against draws peaks, and {quantity} has none", hint="--what power or torque"
        )
    items, missing = _items(book, versions, standard)
    points = []
    for item in items:
        top = item.group.peak_power if quantity == "power" else item.group.peak_torque
        odometer = item.sheet.session.odometer
        if top is None or (against == "odometer" and odometer is None):
            gone = "torque is unknown" if top is None else "its odometer is not recorded"
            missing.append(f"{item.name}: {gone}")
            continue
        half = item.sheet.peak_half_width(item.group) / item.group.peak_power.value * top.value
        points.append(
            PeakPoint(item.name, odometer.si if odometer else None, item.sheet.session.date,
                      top.value, half)
        )  # fmt: skip
    if not points:
        raise NotFound("no peak of these versions can be drawn", why="; ".join(missing) or None)
    standards = " / ".join(dict.fromkeys(item.sheet.standard for item in items))
    dynos = dict.fromkeys(
        item.sheet.session.dyno.id or "not named" if item.sheet.session.dyno else "not named"
        for item in items
    )
    conditions = f"{standards}; dyno {', '.join(dynos)}"
    if len(dynos) > 1:
        conditions += "; two dynos differ by 5 % (one standard deviation, common practice)"
    write(draw(peak_history(points, against, quantity, show, conditions)), out)
    return missing
