"""A figure as it is handed over: not yet written, with what it leaves out."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from buildlog.desk.snapshot import opening
from buildlog.report.numbers import Display

if TYPE_CHECKING:
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.report.pictures.figures import Figure as Figure


@dataclass(frozen=True)
class Drawn:
    """A figure, and a sentence on each thing that could not be drawn."""

    figure: Figure
    left_out: tuple[str, ...] = ()

    def write(self, out: Path) -> None:
        """Write it as PNG, SVG or PDF by the file's ending; UsageError for any other."""
        from buildlog.report.pictures.figures import write

        write(self.figure, out)


def shown_in(book: Snapshot, units: str | None) -> Display:
    """The units of a figure: those asked for ("us", "metric"), else the user's or the author's."""
    return Display(opening.units_of(book.ledger, units))
