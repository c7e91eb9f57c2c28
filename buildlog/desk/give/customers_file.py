"""The one file that goes to a customer: a stage's sheet, with the photos that were chosen alone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

from buildlog.analysis.car.version import Version
from buildlog.desk.give.packing import stage_content, written_as
from buildlog.desk.questions.day_books import faults
from buildlog.desk.snapshot.opening import units_of
from buildlog.desk.snapshot.snapshot import Snapshot, today
from buildlog.errors import BuildlogError
from buildlog.records.plan import Plan
from buildlog.records.reading import read
from buildlog.report.booklet import assemble
from buildlog.report.booklet.content import BookletContent
from buildlog.report.numbers import speaking
from buildlog.store.ledger import plan_branches

_SHOWN = 6  # of a VIN: enough to know the car by, too little to do anything with


def customers_sheet(
    book: Snapshot, stage: str, photos: Sequence[str], out: Path, *, prices: bool = False
) -> None:
    """Write it as .html, .pdf or .txt. What was done and what it gave; no other car, and what it
    was quoted at only with `prices`."""
    told = stage_told(book, stage)
    chosen = tuple(one for one in told.attachments if one.path in photos)
    quoted = tuple(quotes_behind(book, told)) if prices else ()
    told = replace(told, attachments=chosen, now=with_short_vin(told.now), quoted=quoted)
    show = speaking(units_of(book.ledger))
    written_as(assemble.stage_sheet(told, show, full=bool(chosen)), out, show)


def stage_told(book: Snapshot, stage: str) -> BookletContent:
    """What a stage's sheet is made of, for the page that asks and for the file; with the faults
    that are open now, since a customer who reads "no fault is open" reads it today."""
    hangs_on = ("stage", stage, book.head, today())
    told = book.of_content(hangs_on, lambda: stage_content(book.ledger, (stage,)))
    known = {one.name for one in told.faults}
    later = tuple(one for one in faults(book, only_open=True) if one.name not in known)
    return replace(told, faults=(*told.faults, *later))


def quotes_behind(book: Snapshot, told: BookletContent) -> Iterator[Plan]:
    """The plans whose quotes its stages kept, where they are still here and have a price."""
    for name in dict.fromkeys(one.promise.plan for one in told.stages if one.promise):
        with suppress(BuildlogError):
            version = plan_branches.find(book.ledger, name).version
            plan = read(Plan, book.ledger.read(version, plan_branches.PLAN), plan_branches.PLAN)
            if plan.amount is not None:
                yield plan


def with_short_vin(now: Version) -> Version:
    """A version whose car is known by the end of its VIN alone."""
    car = now.configuration.car
    if not car.vin:
        return now
    short = car.model_copy(update={"vin": f"…{car.vin[-_SHOWN:]}"})
    return replace(now, configuration=now.configuration.model_copy(update={"car": short}))
