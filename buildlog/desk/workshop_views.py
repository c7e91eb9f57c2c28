"""What is in the car, what is to be done, what is wrong, and whether the history is whole."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, overload

from buildlog.desk.view import View
from buildlog.findings import Finding

if TYPE_CHECKING:
    from buildlog.analysis.answers.next_steps import Next
    from buildlog.analysis.car.version import Version
    from buildlog.analysis.workshop.check_reading import CheckReading
    from buildlog.analysis.workshop.partlife import PartLife
    from buildlog.desk.give.views import Views
    from buildlog.units import System


class FittedPart:
    """One part in the car. Distances in metres, None with the reason in `why_unknown`."""

    def __init__(self, life: PartLife) -> None:
        self.path = life.path
        """Where it sits: "induction.turbocharger"."""
        self.words = life.identity.words
        """Maker, number and serial; "" where nothing is known."""
        self.serial = life.identity.serial
        self.since = life.since
        """The version that brought it, "before ..." where it was there already."""
        self.fitted_on: dt.date | None = life.fitted_on
        self.done_by = life.by
        self.distance_m = life.distance
        """What it has run in all [m]."""
        self.why_unknown = life.why_unknown
        self.break_in_left_m = life.break_in_left
        """What is left of its break-in [m]; None where none is asked for or it is unknown."""

    def __repr__(self) -> str:
        run = "" if self.distance_m is None else f", {self.distance_m / 1e3:,.0f} km"
        return (
            f"<part {self.path}{f' ({self.words})' if self.words else ''} since {self.since}{run}>"
        )


class PartsView(View, Sequence[FittedPart]):
    """The parts in the car at a version: `buildlog show --parts`."""

    def __init__(self, found: Sequence[PartLife], version: Version, units: System) -> None:
        self._found, self._version, self._units = found, version, units
        self._parts = tuple(map(FittedPart, found))

    @overload
    def __getitem__(self, at: int) -> FittedPart: ...

    @overload
    def __getitem__(self, at: slice) -> Sequence[FittedPart]: ...

    def __getitem__(self, at: int | slice) -> FittedPart | Sequence[FittedPart]:
        return self._parts[at]

    def __len__(self) -> int:
        return len(self._parts)

    def _views(self) -> Views:
        from buildlog.desk.give import views

        return views.of_parts(self._found, self._version, self._units)


@dataclass(frozen=True)
class StepToDo:
    """One thing to do or held up: in words, why, by whom; what is left to drive for it [m]."""

    step: str
    why: str
    who: str
    distance_left_m: float | None


class NextView(View):
    """What to do now, and what must not be started before: `buildlog next`."""

    def __init__(self, found: Next, units: System) -> None:
        self._found, self._units = found, units
        self.actions = tuple(StepToDo(a.step, a.why, a.who, a.distance) for a in found.actions)
        """What to do, in order."""
        self.blocked = tuple(StepToDo(b.step, b.why, b.who, b.distance) for b in found.blocked)
        """What must not be started yet, and why."""
        self.findings: tuple[Finding, ...] = found.findings

    def _views(self) -> Views:
        from buildlog.desk.give import views

        return views.of_next(self._found, self._units)


class CheckView(View):
    """What is wrong or doubtful in the working files: `buildlog check`."""

    def __init__(self, found: CheckReading, units: System) -> None:
        self._found, self._units = found, units
        self.files = found.read
        """How many files were read."""
        self.findings: tuple[Finding, ...] = found.findings
        """What is wrong or doubtful, worst first."""

    @property
    def exit_status(self) -> int:
        """What the command ends with: 1 with a caution or an error, else 0."""
        return int(any(finding.severity != "note" for finding in self.findings))

    def _views(self) -> Views:
        from buildlog.desk.give import views

        return views.of_check(self._found, self._units)
