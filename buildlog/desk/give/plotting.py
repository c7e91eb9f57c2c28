"""From versions to a figure on the disk."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from buildlog.analysis.car.matching import match
from buildlog.analysis.pulls.measured import Measured, measured
from buildlog.errors import NotFound, UsageError

if TYPE_CHECKING:
    from buildlog.analysis.car.version import Version
    from buildlog.analysis.pulls.sheet import PullGroup, Sheet
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.report.numbers import Display

Item = tuple[str, "Sheet", "PullGroup"]


def measured_items(
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
        items.append((version.name, sheet, group))
    return items, missing


def draw_power(
    book: Snapshot,
    versions: Sequence[Version],
    out: Path,
    standard: str | None,
    show: Display,
    quantity: str = "power",
) -> list[str]:
    """Write the figure; sentences about versions that could not be drawn."""
    from buildlog.report.pictures.figures import draw, write
    from buildlog.report.pictures.power_pictures import power_history

    items, missing = measured_items(book, versions, standard)
    if not items:
        raise NotFound(
            "none of these versions was measured",
            why="; ".join(missing) or None,
            hint="buildlog dyno add FILE... --session NAME",
        )
    comparison: Measured | None = None
    if len(items) > 1:
        (_, one, before), (_, other, after) = items[0], items[-1]
        result = measured(one, other, (before, after))
        comparison = result if isinstance(result, Measured) else None
    write(draw(power_history(items, comparison, show, quantity)), out)
    return missing


def draw_margins(book: Snapshot, names: Sequence[str], out: Path, show: Display) -> None:
    """Write the figure of one version's margins."""
    from buildlog.desk.questions.limits import Margining
    from buildlog.report.as_text.margins_text import power_words
    from buildlog.report.pictures.figures import write
    from buildlog.report.pictures.margin_pictures import margin_figure

    if len(names) > 1:
        raise UsageError(
            "a figure of margins is about one version", hint="buildlog plot VERSION --what margins"
        )
    version = book.version(names[0] if names else "working")
    margining = Margining(book)
    title = f"{version.name}; {power_words(margining.subject(version), show)}"
    write(margin_figure(margining.rows(version), title, show), out)
