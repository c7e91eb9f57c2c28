"""The one file that goes to a customer: a stage's sheet, with the photos that were chosen alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from buildlog.analysis.car.version import Version
from buildlog.desk.give.packing import stage_content, written_as
from buildlog.desk.snapshot.opening import units_of
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.report.booklet import assemble
from buildlog.report.numbers import Display

_SHOWN = 6  # of a VIN: enough to know the car by, too little to do anything with


def customers_sheet(book: Snapshot, stage: str, photos: Sequence[str], out: Path) -> None:
    """Write it as .html, .pdf or .txt. What was done and what it gave; no price, no other car."""
    told = stage_content(book.ledger, (stage,))
    chosen = tuple(one for one in told.attachments if one.path in photos)
    told = replace(told, attachments=chosen, now=_with_short_vin(told.now))
    show = Display(units_of(book.ledger))
    written_as(assemble.stage_sheet(told, show, full=bool(chosen)), out, show)


def _with_short_vin(now: Version) -> Version:
    car = now.configuration.car
    if not car.vin:
        return now
    short = car.model_copy(update={"vin": f"…{car.vin[-_SHOWN:]}"})
    return replace(now, configuration=now.configuration.model_copy(update={"car": short}))
