"""The trailer `Promised`: what the quote of a plan promised, in the entry that built the plan.

Written and read here alone. The words are those of format 1 and never change; words behind
them are passed over, so that an older program reads what a newer one adds.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass

from buildlog.records.plan import Plan, Promised

_BAND = r"(-?[\d.]+) to (-?[\d.]+), (-?[\d.]+), (-?[\d.]+)"
_WORDS = re.compile(
    r"plan (\S+), quote of (\d{4}-\d\d-\d\d), from ([0-9a-f]{40}|none)"
    rf"(?:; power at (\w+), W: {_BAND})?(?:; torque, N\*m: {_BAND})?"
    r"(?:; accepted (\d{4}-\d\d-\d\d), by (.*?), (.*?))?(?:;.*)?"
)


@dataclass(frozen=True)
class PromisedBand:
    """Peak power [W] or torque [N*m]: of the curve it starts from, and P10, P50, P90 after."""

    before: float
    p10: float
    p50: float
    p90: float


@dataclass(frozen=True)
class RecordedPromise:
    """What was promised, when, from which entry's curve; both bands None where nothing was."""

    plan: str
    date: dt.date
    start: str | None
    at: str | None = None
    power: PromisedBand | None = None
    torque: PromisedBand | None = None
    accepted: dt.date | None = None
    accepted_by: str | None = None
    accepted_how: str | None = None

    def text(self) -> str:
        """The trailer's value."""
        said = [f"plan {self.plan}, quote of {self.date}, from {self.start or 'none'}"]
        if self.power is not None:
            said.append(f"power at {self.at}, W: {_band(self.power, 0)}")
        if self.torque is not None:
            said.append(f"torque, N*m: {_band(self.torque, 1)}")
        if self.accepted is not None:
            by, how = (_plain(text or "-") for text in (self.accepted_by, self.accepted_how))
            said.append(f"accepted {self.accepted}, by {by}, {how}")
        return "; ".join(said)


def _band(one: PromisedBand, digits: int) -> str:
    before, *rest = (f"{x:.{digits}f}" for x in (one.before, one.p10, one.p50, one.p90))
    return f"{before} to {', '.join(rest)}"


def _plain(text: str) -> str:
    """Without the signs that part the trailer's statements."""
    return re.sub(r"\s*[;,]\s*", " ", text)


def promise_of(name: str, plan: Plan) -> RecordedPromise | None:
    """The stored promise of a plan; None where none was ever made."""
    told, yes = plan.promised, plan.accepted
    if told is None:
        return None
    return RecordedPromise(
        name,
        told.date,
        told.start,
        told.at,
        _stored(told, "power"),
        _stored(told, "torque"),
        yes.date if yes else None,
        yes.by if yes else None,
        yes.how if yes else None,
    )


def _stored(told: Promised, name: str) -> PromisedBand | None:
    found = [getattr(told, f"{name}_{end}") for end in ("before", "p10", "p50", "p90")]
    return PromisedBand(*(one.si for one in found)) if None not in found else None


def recorded_promise(trailer: str | None) -> RecordedPromise | None:
    """The promise that a trailer states; None without one that can be read.

    >>> recorded_promise("plan turbo, quote of 2026-04-10, from none").plan
    'turbo'
    """
    found = _WORDS.fullmatch(trailer or "")
    if found is None:
        return None
    name, day, start, at, *rest = found.groups()
    numbers, (yes, by, how) = rest[:8], rest[8:]
    power, torque = (
        PromisedBand(*map(float, four)) if None not in four else None
        for four in (numbers[:4], numbers[4:])
    )
    return RecordedPromise(
        name, dt.date.fromisoformat(day), None if start == "none" else start, at, power, torque,
        dt.date.fromisoformat(yes) if yes else None, by, how,
    )  # fmt: skip
