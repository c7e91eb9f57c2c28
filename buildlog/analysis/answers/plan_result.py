"""A plan that was built, set against the car: as it was drawn, what it promised, what it gave."""

from __future__ import annotations

from dataclasses import dataclass

from buildlog.analysis.car.changes import Change
from buildlog.analysis.car.version import Version
from buildlog.analysis.pulls.measured import Measured
from buildlog.records.recorded_promise import RecordedPromise


@dataclass(frozen=True)
class BuiltPlan:
    """A plan whose promise an entry carries (`entry`, by its number), beside a version after it.

    `fields`: how many fields the plan changes; `otherwise`: those that the version has otherwise,
    from what was planned to what it has; `beside`: what the work changed that the plan did not,
    from the entry that the plan was made from to `end`, the entry that measured the work, else that
    which built it. `result`: what was measured from `start`, whose curve the promise rests on, to
    `end`; None with a reason.
    """

    name: str
    entry: int
    promise: RecordedPromise
    start: Version | None
    end: Version
    fields: int
    otherwise: tuple[Change, ...]
    beside: tuple[Change, ...]
    result: Measured | None = None
    reason: str | None = None
