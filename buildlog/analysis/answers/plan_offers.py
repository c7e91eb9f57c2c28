"""Plans side by side: what each would give, cost, need besides, and break."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from buildlog.analysis.answers.owner_limits import OwnerLimit, Verdict, owner_limits
from buildlog.analysis.car.changes import Change, changes
from buildlog.analysis.car.version import Version
from buildlog.analysis.margins.margin_changes import MarginChanges
from buildlog.analysis.prediction.predicted import Predicted
from buildlog.analysis.workshop.calibration_match import is_relevant
from buildlog.physics.parts.margin import State
from buildlog.records.car.configuration import Configuration
from buildlog.records.checked_paths import field
from buildlog.records.merge import Conflict
from buildlog.records.plan import Plan

_CALIBRATION = field("calibration.id")


@dataclass(frozen=True)
class Cost:
    """Price for a unit of gain [currency/W]; `most` is None where P10 is no gain."""

    least: float
    middle: float
    most: float | None


@dataclass(frozen=True)
class PlanOffer:
    """One plan as it stands beside others.

    `predicted` is None with a reason; `needs`: what must be written or set anew, too; what
    parts and settings it outgrows is in `margins`; `limits`: the owner's, kept or not;
    `not_learned_from`: sentences on ledgers of the shop that could not be read. `base` is the
    newest entry, which all that the plan does not touch follows, `made_from` the entry it was
    made from; `questions`: fields that both changed since then, where the plan's value stands;
    `built_in`: the number of the entry that built it and carries its promise.
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
    limits: tuple[OwnerLimit, ...]
    margins: MarginChanges | None = None
    not_learned_from: tuple[str, ...] = ()
    made_from: Version | None = None
    questions: tuple[Conflict, ...] = ()
    built_in: int | None = None

    @property
    def breaks(self) -> tuple[str, ...]:
        """The owner's limits that it breaks or may break, in sentences."""
        against = (Verdict.BROKEN, Verdict.DOUBTFUL)
        return tuple(one.why for one in self.limits if one.verdict in against)

    @property
    def unknown(self) -> tuple[str, ...]:
        """The owner's limits that could not be looked at, in sentences."""
        return tuple(one.why for one in self.limits if one.verdict is Verdict.UNKNOWN)


def offer(
    name: str,
    version: Version,
    base: Version,
    plan: Plan,
    result: Predicted | str,
    margins: MarginChanges | None = None,
) -> PlanOffer:
    """Put one plan together; `margins`: what is left of each limit, at its base and with it."""
    found = result if isinstance(result, Predicted) else None
    moved = changes(base.configuration, version.configuration)
    return PlanOffer(
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
            *_ethanol(version.configuration),
        ),
        owner_limits(base.configuration, version.configuration, found),
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
    if any(change.path == _CALIBRATION for change in moved):
        return []
    touched = [c.path for c in moved if is_relevant(c.path, configuration)]
    if not touched:
        return []
    named = configuration.calibration.id if configuration.calibration else None
    few = ", ".join(touched[:3]) + (f" and {len(touched) - 3} more" if len(touched) > 3 else "")
    return [f"calibration {named or '(none stated)'} must be redone for {few}"]


def _ethanol(configuration: Configuration) -> list[str]:
    """A fuel outside what the car is said to be set up for."""
    fuel = configuration.fuel
    if fuel is None or fuel.ethanol_range is None or fuel.ethanol_content is None:
        return []
    least, most = fuel.ethanol_range
    if least.si <= fuel.ethanol_content.si <= most.si:
        return []
    said = f"{fuel.ethanol_content.text} ethanol, set up for {least.text} to {most.text}"
    return [f"{said}: fuel.ethanol_range to be set to what the car will be set up for"]


MOST_LIMITS = 8


def limits_worth_showing(offers: Sequence[PlanOffer]) -> list[str]:
    """Names of the limits to show side by side: past or close with any plan that tightens
    them, tightest first; each plan's first one always."""
    found: dict[str, float] = {}
    for one in offers:
        for name, urgency in _urgent(one.margins):
            found[name] = min(urgency, found.get(name, urgency))
    return sorted(found, key=lambda name: (found[name], name))[:MOST_LIMITS]


def _urgent(margins: MarginChanges | None) -> list[tuple[str, float]]:
    """Limits of one plan with how many caution bands are left of each."""
    if margins is None:
        return []
    listed = []
    for change in margins.changes:
        row = change.after
        if row is None or row.margin.left is None or row.kind.information:
            continue
        pressing = row.state is not State.CLEAR and (change.tighter or change.before is None)
        if pressing or row is margins.first:
            listed.append((change.name, row.margin.left.p50 / row.kind.caution))
    return listed
