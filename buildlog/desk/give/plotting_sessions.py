"""Figures of what was measured: curves, mixture, boost, peaks over the car's life, one session."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from buildlog.analysis.car.history_files import match
from buildlog.analysis.pulls.measured import Measured, measured
from buildlog.desk.give.drawn import Drawn, shown_in
from buildlog.errors import NotFound, UsageError
from buildlog.report.pictures.figures import draw
from buildlog.report.pictures.sheet_pictures import Item

if TYPE_CHECKING:
    from buildlog.analysis.car.version import Version
    from buildlog.analysis.pulls.sheet_report import SheetReport
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.report.pictures.sheet_pictures import PeakPoint


def curves(
    book: Snapshot,
    versions: Sequence[Version],
    quantity: str = "power",
    standard: str | None = None,
    units: str | None = None,
) -> Drawn:
    """Power or torque of the versions; below, the difference of the first and the last."""
    from buildlog.report.pictures.power_pictures import power_history

    items, missing = _items(book, versions, standard)
    if not items:
        raise NotFound(
            "none of these versions was measured",
            why="; ".join(missing) or None,
            hint="buildlog dyno add FILE... --session NAME",
        )
    comparison: Measured | None = None
    if len(items) > 1:
        one, other = items[0], items[-1]
        result = measured(one.sheet, other.sheet, (one.group, other.group))
        comparison = result if isinstance(result, Measured) else None
    lines = [(item.name, item.sheet, item.group) for item in items]
    picture = power_history(lines, comparison, shown_in(book, units), quantity)
    return Drawn(draw(picture), tuple(missing))


def channel(
    book: Snapshot,
    versions: Sequence[Version],
    what: str,
    standard: str | None = None,
    units: str | None = None,
) -> Drawn:
    """Mixture ("air-fuel") or boost of the versions, with the declared target."""
    from buildlog.report.pictures.sheet_pictures import channel_history

    items, missing = _items(book, versions, standard)
    picture = channel_history(items, what, shown_in(book, units)) if items else None
    if picture is None:
        raise NotFound(
            f"none of these versions has {what.replace('-', ' ')} in its files",
            why="; ".join(missing) or None,
            hint="name the column with --map when the files are added",
        )
    return Drawn(draw(picture), tuple(missing))


def peaks(
    book: Snapshot,
    versions: Sequence[Version],
    quantity: str,
    against: str,
    standard: str | None = None,
    units: str | None = None,
) -> Drawn:
    """Peaks of power or torque over "odometer" or "date"."""
    from buildlog.report.pictures.sheet_pictures import peak_history

    if quantity not in ("power", "torque"):
        raise UsageError(
            f"--against draws peaks, and {quantity} has none", hint="--what power or torque"
        )
    items, missing = _items(book, versions, standard)
    found = [_peak(item, quantity, against) for item in items]
    missing += [one for one in found if isinstance(one, str)]
    points = [one for one in found if not isinstance(one, str)]
    if not points:
        raise NotFound("no peak of these versions can be drawn", why="; ".join(missing) or None)
    show = shown_in(book, units)
    picture = peak_history(points, against, quantity, show, _conditions(items))
    return Drawn(draw(picture), tuple(missing))


def sheet_figure(book: Snapshot, report: SheetReport, units: str | None = None) -> Drawn:
    """One session's curves, mixture and boost."""
    from buildlog.report.pictures.sheet_pictures import sheet_picture

    configuration = book.owner(report.sheet.name).configuration
    return Drawn(draw(sheet_picture(report, configuration, shown_in(book, units))))


def _items(
    book: Snapshot, versions: Sequence[Version], standard: str | None
) -> tuple[list[Item], list[str]]:
    """The sheet and group that stand for each version; sentences for those that have none."""
    items: list[Item] = []
    missing: list[str] = []
    for version in versions:
        found = match(version, book.visits)
        if found is None:
            missing.append(f"{version.name}: no dyno session measured it")
            continue
        sheet = book.sheet(found.visit.name, standard)
        group = sheet.group(found.calibration)
        if group is None:
            missing.append(f"{version.name}: only stated values, no curve")
            continue
        owner = book.owner(sheet.name).configuration
        items.append(Item(version.name, sheet, group, owner))
    return items, missing


def _peak(item: Item, quantity: str, against: str) -> PeakPoint | str:
    """A version's peak with its 95 % half-width, or why it cannot be drawn."""
    from buildlog.report.pictures.sheet_pictures import PeakPoint

    power, session = item.group.peak_power, item.sheet.session
    top = power if quantity == "power" else item.group.peak_torque
    if top is None:
        return f"{item.name}: torque is unknown"
    if against == "odometer" and session.odometer is None:
        return f"{item.name}: its odometer is not recorded"
    half = item.sheet.peak_half_width(item.group) / power.value * top.value
    odometer = session.odometer.si if session.odometer else None
    return PeakPoint(item.name, odometer, session.date, top.value, half)


def _conditions(items: Sequence[Item]) -> str:
    """By which standards and on which dynos the peaks were measured."""
    standards = " / ".join(dict.fromkeys(item.sheet.standard for item in items))
    dynos = dict.fromkeys(
        item.sheet.session.dyno.id or "not named" if item.sheet.session.dyno else "not named"
        for item in items
    )
    text = f"{standards}; dyno {', '.join(dynos)}"
    if len(dynos) > 1:
        text += "; two dynos differ by 5 % (one standard deviation, common practice)"
    return text
