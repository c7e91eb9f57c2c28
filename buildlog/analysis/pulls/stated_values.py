"""Values that only a printout or a person states: a point, basis declared, no scatter."""

from __future__ import annotations

from dataclasses import dataclass

from buildlog.analysis.pulls.measured import Measured
from buildlog.analysis.pulls.sheet import Sheet
from buildlog.physics.gases import correction
from buildlog.records.session import Stated


@dataclass(frozen=True)
class StatedPoint:
    """One value as it may be compared: SI, where, in which standard, at the wheels or crank.

    `basis` is "declared" or "measured"; a measured one is a group's peak.
    """

    value: float
    at: float | None
    standard: str
    place: str
    basis: str
    source: str


@dataclass(frozen=True)
class StatedComparison:
    """Two points side by side. `delta` is None where they cannot be subtracted; no verdict
    ever, because the scatter of a declared value is not known."""

    quantity: str
    before: StatedPoint
    after: StatedPoint
    reasons: tuple[str, ...]

    @property
    def comparable(self) -> bool:
        """Whether the difference of the two means anything."""
        return not self.reasons

    @property
    def delta(self) -> float | None:
        """After minus before, where that can be said."""
        return self.after.value - self.before.value if self.comparable else None


@dataclass(frozen=True)
class SessionComparison:
    """Two sessions, groups or pulls by their `names`: measured, or side by side as far as both
    state a value. `why_observed` says why no standard's factor was applied, where none was."""

    names: tuple[str, str]
    measured: Measured | None
    stated: tuple[StatedComparison, ...] = ()
    why_observed: str | None = None


def point_of(stated: Stated, sheet: Sheet) -> StatedPoint:
    """A stated value as a point."""
    try:
        standard = correction.standard_named(stated.standard or "unknown")
    except ValueError:
        standard = stated.standard or "unknown"
    at = None
    if stated.at is not None:
        unit = 30 / 3.141592653589793 if stated.at.dimension == "angular_speed" else 3.6
        at = stated.at.si * unit
    place = {"wheel": "wheels", "crank": "crank", None: "not said"}[stated.measured_at]
    return StatedPoint(
        stated.value.si, at, standard, place, "declared", stated.source or f"session {sheet.name}"
    )


def points(sheet: Sheet, quantity: str) -> list[StatedPoint]:
    """The peak of a session in one quantity, measured if there are pulls, else as stated."""
    group = sheet.kept
    if group is not None:
        top = group.peak_power if quantity == "power" else group.peak_torque
        if top is None:
            return []
        return [StatedPoint(top.value, top.at, sheet.standard, sheet.at, "measured", sheet.name)]
    return [point_of(s, sheet) for s in sheet.session.stated if s.quantity == quantity]


def compare_stated(one: Sheet, other: Sheet) -> list[StatedComparison]:
    """Peaks side by side where one side at least is only declared."""
    found = []
    for quantity in ("power", "torque"):
        before, after = points(one, quantity), points(other, quantity)
        if before and after:
            a, b = (max(side, key=lambda point: point.value) for side in (before, after))
            found.append(StatedComparison(quantity, a, b, tuple(_unlike(a, b))))
    return found


def _unlike(a: StatedPoint, b: StatedPoint) -> list[str]:
    reasons = []
    if "unknown" in (a.standard, b.standard):
        reasons.append("the standard of a declared value is not known")
    elif a.standard != b.standard:
        reasons.append(f"standards {a.standard} and {b.standard}")
    if "not said" in (a.place, b.place):
        reasons.append("it is not said whether a value is for the wheels or the crank")
    elif a.place != b.place:
        reasons.append(f"at the {a.place} and at the {b.place}")
    return reasons
