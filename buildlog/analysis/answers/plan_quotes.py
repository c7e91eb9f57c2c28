"""A plan as a quote: what it proposes row by row, why each is needed, what was promised."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass

from buildlog.analysis.answers.plan_offers import PlanOffer
from buildlog.analysis.car.changes import Change
from buildlog.analysis.car.version import Version
from buildlog.analysis.margins.figures.margin_rows import Row, Rule, State
from buildlog.analysis.margins.margin_changes import MarginChange
from buildlog.records.field_traits import moves
from buildlog.records.fields.traits import PREDICTION
from buildlog.records.paths import assembly
from buildlog.records.plan import QuotedCharge
from buildlog.records.recorded_promise import RecordedPromise


@dataclass(frozen=True)
class QuoteRow:
    """A line of the proposal: an assembly with its changes, or what else is to be paid for.

    `because`: the limit that the assembly would not hold without the change. `gains`: whether the
    power that is predicted comes from it.
    """

    name: str
    changes: tuple[Change, ...] = ()
    because: MarginChange | None = None
    gains: bool = False
    charge: QuotedCharge | None = None


@dataclass(frozen=True)
class Quote:
    """One plan on paper. `promise` is the stored one; `new`: it was stored by this very call.
    `read`: the entry of the newest reading of the odometer; `base`: the car it was made for."""

    offer: PlanOffer
    promise: RecordedPromise
    base: Version
    read: Version | None
    shop: str | None
    signed: str | None
    new: bool

    @property
    def rows(self) -> tuple[QuoteRow, ...]:
        """What gives the gain, what must change with it, the rest, then other charges."""
        return tuple(_rows(self.offer))

    @property
    def limits(self) -> tuple[Row, ...]:
        """Every limit with the plan, worst first; none for information."""
        changes = self.offer.margins.changes if self.offer.margins else ()
        rows = [one.after for one in changes if one.after is not None]
        return tuple(one for one in rows if not one.kind.information)


def _rows(offer: PlanOffer) -> Iterator[QuoteRow]:
    names = list(dict.fromkeys(change.assembly for change in offer.changes))
    charges = {_plain(one.what): one for one in offer.plan.charge}
    rows = [_row(offer, name, charges.pop(_plain(name), None)) for name in names]
    yield from (one for one in rows if one.gains)
    yield from (one for one in rows if not one.gains and one.because)
    yield from (one for one in rows if not one.gains and not one.because)
    yield from (QuoteRow(one.what, charge=one) for one in charges.values())


def _row(offer: PlanOffer, name: str, charge: QuotedCharge | None) -> QuoteRow:
    own = tuple(change for change in offer.changes if change.assembly == name)
    gains = any(_moves_power(change.path) for change in own)
    return QuoteRow(name, own, _because(offer, name), gains, charge)


def _plain(name: str) -> str:
    return name.casefold().replace("_", " ").strip()


def _moves_power(path: str) -> bool:
    with suppress(LookupError):
        return bool(moves(path) & PREDICTION)
    return False


def _because(offer: PlanOffer, name: str) -> MarginChange | None:
    """The limit of an assembly that the plan would pass with what is in the car today."""
    own = [one for one in (offer.margins.changes if offer.margins else ()) if _about(one, name)]
    return next((one for one in own if _short(one)), next(filter(_unrated, own), None))


def _about(one: MarginChange, name: str) -> bool:
    sides = [side for side in (one.before, one.after) if side is not None]
    return any(assembly(path) == name for side in sides for path in side.capacity.paths)


def _short(one: MarginChange) -> bool:
    """Whether what the plan asks is more than what is in the car today allows."""
    was, now = one.before, one.after
    if was is None or now is None or now.kind.rule is not Rule.RATIO:
        return False
    limit, load = was.margin.capacity, now.margin.demand
    return limit is not None and load is not None and load.p50 > limit.p50


def _unrated(one: MarginChange) -> bool:
    """Whether nobody states a limit for what is in the car today, and somebody does with it."""
    was, now = one.before, one.after
    if was is None or now is None:
        return False
    return was.margin.capacity is None and now.state is not State.UNKNOWN
