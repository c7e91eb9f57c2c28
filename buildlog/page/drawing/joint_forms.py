"""A maker's sheet at the car: which bolt is next, at which stage, and what each one got."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from buildlog.analysis.car.sheet_book import ENDING, SheetState, Stage, questions, stages
from buildlog.desk.questions.day_books import sheet_named, sheets
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import BuildlogError
from buildlog.page.drawing.bounds import Bounds, between
from buildlog.page.drawing.held_values import held
from buildlog.records.fasteners import Fastened, StageDone
from buildlog.report.booklet.html import typeset
from buildlog.units import Quantity


class Turn(NamedTuple):
    """One bolt at one stage: what is asked of it, and what an act on it has to know."""

    sheet: str
    joint: Fastened
    stage: Stage
    bolt: int
    got: StageDone | None
    old: str

    @property
    def what(self) -> str:
        """What an act on it changes."""
        return f"{self.sheet}/{self.joint.name}/{self.bolt}/{self.stage.number}"

    @property
    def figure(self) -> str:
        """What the hand must do."""
        return figure(self.stage)

    @property
    def unit(self) -> str:
        """What is written beside the field."""
        return "°" if self.stage.turns else typeset(f"1 {self.stage.low.unit.text}")[2:]

    @property
    def bounds(self) -> Bounds:
        """What is right of what a bolt got."""
        return between(*self.stage.bounds, self.stage.low,
                       (short(self.stage.low), short(self.stage.high)))  # fmt: skip

    @property
    def where(self) -> str:
        """ "bolt 5 of 10, stage 2 of 3"."""
        several = f", stage {self.stage.number} of {self.stage.of}" if self.stage.of > 1 else ""
        return f"bolt {self.bolt} of {self.joint.count}{several}"


class Cell(NamedTuple):
    """One cell of the tally: what a bolt got at a stage, and whether that is outside."""

    text: str
    outside: str
    now: bool
    bolt: int
    stage: int


def figure(stage: Stage) -> str:
    """ "90°", "30 N·m", "20 to 24 N·m"."""
    if not stage.is_range or stage.low == stage.high:
        return short(stage.high if stage.is_range else stage.low)
    return f"{number(stage.low)} to {short(stage.high)}"


def number(value: Quantity) -> str:
    """The number of a value without its unit."""
    return f"{value.unit.from_si(value.si):g}"


def short(value: Quantity) -> str:
    """ "90°", "30 N·m"."""
    if value.dimension == "angle":
        return f"{value.to('deg'):g}°"
    return typeset(value.text)


def state_of(book: Snapshot, name: str) -> SheetState:
    """A sheet by its name; NotFound says which there are."""
    return sheet_named(sheets(book.ledger), name)


def turn(book: Snapshot, state: SheetState, chosen: Mapping[str, str]) -> Turn | None:
    """The bolt that is chosen, else the next one; None where all have all their stages."""
    wanted = {joint.name: joint for joint in state.joints}.get(chosen.get("joint", ""))
    bolt, place = chosen.get("bolt", ""), chosen.get("stage", "")
    if wanted is not None and bolt.isdecimal() and place.isdecimal():
        for stage in stages(wanted):
            if stage.number == int(place) and 1 <= int(bolt) <= wanted.count:
                return _turn(book, state, wanted, stage, int(bolt))
    for asked in questions(state):
        if wanted is None or asked.joint is wanted:
            return _turn(book, state, asked.joint, asked.stage, asked.fasteners[0])
    return None


def _turn(book: Snapshot, state: SheetState, joint: Fastened, stage: Stage, bolt: int) -> Turn:
    got = got_of(joint, stage.number, bolt)
    path = f"torque/{state.name}.toml"
    place = ("fastened", {"name": joint.name}, "done", {"stage": stage.number, "number": bolt})
    recorded = book.entries and path in book.ledger.files(book.entries[-1])
    old = "" if recorded else held(book, path, place)
    return Turn(state.name.removesuffix(ENDING), joint, stage, bolt, got, old)


def got_of(joint: Fastened, stage: int, bolt: int) -> StageDone | None:
    """What a bolt got at a stage, the newest of it."""
    found = [one for one in joint.done if one.stage == stage and one.number in (None, bolt)]
    return found[-1] if found else None


def tally(joint: Fastened, now: Turn | None) -> list[list[Cell]]:
    """Bolts down, stages across."""
    rows = []
    for bolt in range(1, joint.count + 1):
        row = []
        for stage in stages(joint):
            got = got_of(joint, stage.number, bolt)
            here = now is not None and (now.joint.name, now.bolt, now.stage.number) == (
                joint.name, bolt, stage.number)  # fmt: skip
            side = stage.outside(got.value) if got else None
            outside = {"below": "under", "above": "over"}.get(side or "", "")
            row.append(Cell(_cell(got), outside, here, bolt, stage.number))
        rows.append(row)
    return rows


def _cell(got: StageDone | None) -> str:
    if got is None:
        return ""
    return short(got.value) if got.value.dimension == "angle" else number(got.value)


def next_words(book: Snapshot, name: str) -> str:
    """ "bolt 5 of 10, stage 2 of 3" of the sheet that comes next; "" where it cannot be read."""
    try:
        found = turn(book, state_of(book, name), {})
    except BuildlogError:
        return ""
    return found.where if found else ""
