"""Plans side by side: what each would give, cost, need besides, and break."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from buildlog.analysis.calibration_match import is_relevant
from buildlog.analysis.changes import Change, changes
from buildlog.analysis.margin_changes import MarginChanges
from buildlog.analysis.plan_limits import too_small
from buildlog.analysis.prediction import Predicted
from buildlog.analysis.priors import Prior
from buildlog.analysis.version import Version
from buildlog.records.configuration import Configuration
from buildlog.records.plan import Plan

_CATALYSTS = ("original", "high-flow", "none")


@dataclass(frozen=True)
class Cost:
    """Price for a unit of gain [currency/W]; `most` is None where P10 is no gain."""

    least: float
    middle: float
    most: float | None


@dataclass(frozen=True)
class Offer:
    """One plan as it stands beside others.

    `predicted` is None with a reason; `needs`: what else must change; `breaks`: limits of the
    owner that it passes; `unknown`: limits that could not be looked at.
    """

    name: str
    version: Version
    base: Version
    changes: tuple[Change, ...]
    plan: Plan
    predicted: Predicted | None
    reason: str | None
    cost: Cost | None
    needs: tuple[str, ...]
    breaks: tuple[str, ...]
    unknown: tuple[str, ...]
    margins: MarginChanges | None = None


def offer(
    name: str,
    version: Version,
    base: Version,
    plan: Plan,
    result: Predicted | str,
    priors: Mapping[str, Prior],
    margins: MarginChanges | None = None,
) -> Offer:
    """Put one plan together; `margins`: what is left of each limit, at its base and with it."""
    found = result if isinstance(result, Predicted) else None
    moved = changes(base.configuration, version.configuration)
    needs, blind = too_small(version.configuration, found, priors) if found else ([], [])
    breaks, unknown = broken_limits(base.configuration, version.configuration, found)
    return Offer(
        name,
        version,
        base,
        tuple(moved),
        plan,
        found,
        result if isinstance(result, str) else None,
        _cost(plan.amount, found),
        (
            *_calibration(version.configuration, moved),
            *_boost_settings(version.configuration),
            *needs,
        ),
        tuple(breaks),
        (*unknown, *blind),
        margins,
    )


def _cost(price: Decimal | None, result: Predicted | None) -> Cost | None:
    """Price over gain at P90, P50 and P10; None where the middle is no gain."""
    if price is None or result is None or result.peak_power_delta.p50 <= 0:
        return None
    band, paid = result.peak_power_delta, float(price)
    return Cost(paid / band.p90, paid / band.p50, paid / band.p10 if band.p10 > 0 else None)


def _calibration(configuration: Configuration, moved: Sequence[Change]) -> list[str]:
    """Whether the calibration has to be written anew: hardware it depends on, same id."""
    if any(change.path == "calibration.id" for change in moved):
        return []
    touched = [c.path for c in moved if is_relevant(c.path, configuration)]
    if not touched:
        return []
    named = configuration.calibration.id if configuration.calibration else None
    few = ", ".join(touched[:3]) + (f" and {len(touched) - 3} more" if len(touched) > 3 else "")
    return [f"calibration {named or '(none stated)'} to be written anew for {few}"]


def _boost_settings(configuration: Configuration) -> list[str]:
    """Settings that would stop the boost short of its target."""
    boost = configuration.induction.boost if configuration.induction else None
    if boost is None or boost.target_gauge is None:
        return []
    target, found = boost.target_gauge, []
    if boost.relief_gauge is not None and boost.relief_gauge.si < target.si:
        found.append(
            f"relief valve opens at {boost.relief_gauge.text}, the target is {target.text}"
        )
    limit = configuration.calibration.boost_limit_gauge if configuration.calibration else None
    if limit is not None and limit.si <= target.si:
        found.append(f"the calibration cuts at {limit.text}, the target is {target.text}")
    return found


def broken_limits(
    before: Configuration, after: Configuration, result: Predicted | None
) -> tuple[list[str], list[str]]:
    """The owner's limits that a plan passes, and those that could not be looked at."""
    intent = after.intent
    if intent is None:
        return [], []
    breaks: list[str] = []
    unknown: list[str] = []
    if intent.wheel_power_limit is not None:
        _wheel_power(
            intent.wheel_power_limit.text, intent.wheel_power_limit.si, result, breaks, unknown
        )
    boost = after.induction.boost if after.induction else None
    limit = intent.boost_limit_gauge
    if limit is not None and boost and boost.target_gauge and boost.target_gauge.si > limit.si:
        breaks.append(f"boost target {boost.target_gauge.text} above the {limit.text} wanted")
    if intent.keep_emission_equipment:
        breaks += _emissions(before, after)
    _sound(before, after, breaks, unknown)
    breaks += _fuel(before, after)
    return breaks, unknown


def _wheel_power(
    text: str, limit: float, result: Predicted | None, breaks: list[str], unknown: list[str]
) -> None:
    if result is None:
        unknown.append(f"wheel power against {text}: not predicted")
    elif result.peak_power.p50 > limit:
        breaks.append(f"wheel power above the {text} wanted, at the middle of the band")
    elif result.peak_power.p90 > limit:
        breaks.append(f"wheel power may pass the {text} wanted (P90)")


def _emissions(before: Configuration, after: Configuration) -> list[str]:
    """Fewer or other catalysts than before, where emission equipment is to stay."""
    a, b = (c.exhaust.catalysts if c.exhaust else None for c in (before, after))
    if b is None:
        return ["emission equipment: catalysts are left out"] if a is not None else []
    ranks = [_CATALYSTS.index(x.kind) if x and x.kind else 0 for x in (a, b)]
    fewer = a is not None and a.count is not None and b.count is not None and b.count < a.count
    if ranks[1] > ranks[0] or fewer:
        said = f"{b.kind or 'kind not stated'}, {b.count if b.count is not None else '?'} fitted"
        return [f"emission equipment was to stay: catalysts {said}; ask what local codes allow"]
    return []


def _sound(
    before: Configuration, after: Configuration, breaks: list[str], unknown: list[str]
) -> None:
    limit = after.intent.sound_level_limit if after.intent else None
    if limit is None or after.exhaust is None:
        return
    level = after.exhaust.sound_level
    if level is not None and level.si > limit.si:
        breaks.append(f"sound level {level.text} above {limit.text}")
    moved = [c for c in changes(before, after) if c.assembly == "exhaust"]
    measured_anew = any(c.path == "exhaust.sound_level" for c in moved)
    if moved and not measured_anew:
        unknown.append(f"sound level against {limit.text}: the exhaust changes, not yet measured")


def _fuel(before: Configuration, after: Configuration) -> list[str]:
    """Another kind of fuel, where the owner's list does not name it."""
    kinds = [c.fuel.kind if c.fuel else None for c in (before, after)]
    named = after.intent.fuel_available if after.intent else None
    if named is None or kinds[1] is None or kinds[0] == kinds[1]:
        return []
    word = kinds[1].replace("-", " ")
    if any(word in text.replace("-", " ").lower() for text in named):
        return []
    return [f"fuel {kinds[1]} is not among what the owner can buy ({', '.join(named)})"]
