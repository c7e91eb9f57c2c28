"""The limits that the owner stated, one by one: kept, broken or unknown with a plan."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from buildlog.analysis.car.changes import changes
from buildlog.analysis.prediction.predicted import Predicted
from buildlog.records.car.configuration import Configuration
from buildlog.records.checked_paths import field
from buildlog.units import Quantity

_SOUND = field("exhaust.sound_level")
_CATALYSTS = ("original", "high-flow", "none")


class Verdict(StrEnum):
    """What becomes of one limit."""

    KEPT = "kept"
    DOUBTFUL = "may break"
    BROKEN = "broken"
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class OwnerLimit:
    """One stated limit, what becomes of it, and why in a sentence (empty where it is kept)."""

    name: str
    verdict: Verdict
    why: str = ""


def owner_limits(
    before: Configuration, after: Configuration, result: Predicted | None
) -> tuple[OwnerLimit, ...]:
    """Every limit in [intent] that a plan is held against; `before` is what it was made from."""
    intent = after.intent
    if intent is None:
        return ()
    found: list[OwnerLimit] = []
    if intent.wheel_power_limit is not None:
        found.append(_wheel_power(intent.wheel_power_limit, result))
    if intent.boost_limit_gauge is not None:
        found.append(_boost(intent.boost_limit_gauge, after))
    if intent.sound_level_limit is not None:
        found.append(_sound(intent.sound_level_limit, before, after))
    if intent.keep_emission_equipment:
        found.append(_emissions(before, after))
    found += _fuel(before, after)
    return tuple(found)


def _wheel_power(limit: Quantity, result: Predicted | None) -> OwnerLimit:
    name = f"wheel power {limit.text}"
    verdict, why = Verdict.KEPT, ""
    if result is None:
        verdict, why = Verdict.UNKNOWN, f"wheel power against {limit.text}: not predicted"
    elif result.peak_power.p50 > limit.si:
        verdict = Verdict.BROKEN
        why = f"wheel power above the {limit.text} wanted, at the middle of the band"
    elif result.peak_power.p90 > limit.si:
        verdict = Verdict.DOUBTFUL
        why = f"wheel power may pass the {limit.text} wanted (1 result in 10)"
    return OwnerLimit(name, verdict, why)


def _boost(limit: Quantity, after: Configuration) -> OwnerLimit:
    name, how = f"boost {limit.text}", after.induction
    if how is None or how.kind in (None, "naturally-aspirated"):
        return OwnerLimit(name, Verdict.KEPT)
    target = how.boost.target_gauge if how.boost else None
    verdict, why = Verdict.KEPT, ""
    if target is None:
        why = f"boost against {limit.text}: induction.boost.target_gauge is missing"
        verdict = Verdict.UNKNOWN
    elif target.si > limit.si:
        verdict, why = Verdict.BROKEN, f"boost target {target.text} above the {limit.text} wanted"
    return OwnerLimit(name, verdict, why)


def _sound(limit: Quantity, before: Configuration, after: Configuration) -> OwnerLimit:
    name = f"sound level {limit.text}"
    level = after.exhaust.sound_level if after.exhaust else None
    if level is not None and level.si > limit.si:
        return OwnerLimit(name, Verdict.BROKEN, f"sound level {level.text} above {limit.text}")
    moved = [c.path for c in changes(before, after) if c.assembly == "exhaust"]
    if moved and _SOUND not in moved:
        why = f"sound level against {limit.text}: the exhaust changes, not yet measured"
        return OwnerLimit(name, Verdict.UNKNOWN, why)
    if level is None:
        why = f"sound level against {limit.text}: exhaust.sound_level is missing"
        return OwnerLimit(name, Verdict.UNKNOWN, why)
    return OwnerLimit(name, Verdict.KEPT)


def _emissions(before: Configuration, after: Configuration) -> OwnerLimit:
    """Fewer or other catalysts than before, where emission equipment is to stay."""
    name, why = "emission equipment stays", ""
    a, b = (c.exhaust.catalysts if c.exhaust else None for c in (before, after))
    if b is None:
        why = "emission equipment: catalysts are left out" if a is not None else ""
    else:
        ranks = [_CATALYSTS.index(x.kind) if x and x.kind else 0 for x in (a, b)]
        fewer = a is not None and a.count is not None and b.count is not None and b.count < a.count
        if ranks[1] > ranks[0] or fewer:
            fitted = b.count if b.count is not None else "?"
            said = b.kind or "kind not stated"
            kept = "" if said == "none" else f", {fitted} fitted"
            why = f"emission equipment was to stay: catalysts {said}{kept}"
            why += "; ask what local codes allow"
    return OwnerLimit(name, Verdict.BROKEN if why else Verdict.KEPT, why)


def _fuel(before: Configuration, after: Configuration) -> Iterator[OwnerLimit]:
    """Another kind of fuel, where the owner's list does not name it."""
    kinds = [c.fuel.kind if c.fuel else None for c in (before, after)]
    named = after.intent.fuel_available if after.intent else None
    if named is None or kinds[1] is None:
        return
    word = kinds[1].replace("-", " ")
    listed = any(word in text.replace("-", " ").lower() for text in named)
    if kinds[0] == kinds[1] or listed:
        yield OwnerLimit("fuel the owner can buy", Verdict.KEPT)
        return
    why = f"fuel {kinds[1]} is not among what the owner can buy ({', '.join(named)})"
    yield OwnerLimit("fuel the owner can buy", Verdict.BROKEN, why)
