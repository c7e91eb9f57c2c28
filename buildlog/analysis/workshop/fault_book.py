"""Faults: which are open, what closed the others, and how far a part had run when it failed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from buildlog.analysis.car.history_files import HistoryFiles
from buildlog.analysis.car.version import Version, place_of
from buildlog.analysis.car.written import Written
from buildlog.analysis.workshop import partlife
from buildlog.analysis.workshop.partlife import PartLife
from buildlog.physics.parts.trouble_codes import TroubleCode
from buildlog.records.faults import Fault


@dataclass(frozen=True)
class FaultState:
    """A fault with what became of it. Distances in metres.

    `closed_by` is the file or entry that closed it; `part_distance` what the part had run when
    it failed, None with a reason where unknown or where no part is named; `part` is that part.
    """

    name: str
    fault: Fault
    version: Version
    closed: Version | None
    closed_by: str | None
    closing: Fault | None
    part_distance: float | None
    part_why: str | None
    part: PartLife | None

    @property
    def open(self) -> bool:
        """Whether nothing has closed it."""
        return self.closed is None


@dataclass(frozen=True)
class FaultOpened(Written):
    """A fault written down, with what its trouble codes say by themselves."""

    fault: Fault
    codes: tuple[TroubleCode, ...]


@dataclass(frozen=True)
class FaultClosed(Written):
    """What was done about a fault, in a file of its own."""

    closed: FaultState
    closing: Fault


def faults(history: Sequence[Version], papers: HistoryFiles) -> list[FaultState]:
    """Every fault, oldest first."""
    return [
        _state(history, papers, index, name)
        for index, version in enumerate(history)
        for name in version.faults
        if name in papers.faults and papers.faults[name].state == "open"
    ]


def open_faults(
    history: Sequence[Version], papers: HistoryFiles, at: int | None = None
) -> list[FaultState]:
    """The faults that were open at a place of the history, or are open at its end."""
    until = len(history) - 1 if at is None else at
    return [one for one in faults(history[: until + 1], papers) if one.open]


def _state(history: Sequence[Version], papers: HistoryFiles, index: int, name: str) -> FaultState:
    fault = papers.faults[name]
    closed, by = _closed(history, papers, index, name)
    life = _part(history, index, fault)
    return FaultState(
        name, fault, history[index], closed, by,
        papers.faults.get(by) if by else None, *_distance(history, index, fault, life), life,
    )  # fmt: skip


def _closed(
    history: Sequence[Version], papers: HistoryFiles, index: int, name: str
) -> tuple[Version | None, str | None]:
    for version in history[index:]:
        for other in version.faults:
            said = papers.faults.get(other)
            if said and said.state == "closed" and said.closes == name:
                return version, other
        if version.resolves and place_of(history, version.resolves) == index:
            return version, version.name
    return None, None


def _part(history: Sequence[Version], index: int, fault: Fault) -> PartLife | None:
    """The part that failed: mending it often fits another in the same entry."""
    if not fault.part:
        return None
    before = partlife.part_at(history, history[max(index - 1, 0)])
    return partlife.part(before, fault.part)


def _distance(
    history: Sequence[Version], index: int, fault: Fault, life: PartLife | None
) -> tuple[float | None, str | None]:
    if life is None:
        return None, "no part is named" if not fault.part else f"{fault.part} is not recorded"
    car = partlife.car_at(history, index, fault.odometer.si if fault.odometer else None)
    run = life.distance_at(car)
    return run, None if run is not None else life.why_unknown or "the odometer is unknown"
