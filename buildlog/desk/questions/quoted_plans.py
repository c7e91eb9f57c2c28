"""A plan as a quote: what it promises today, and the page with what was promised."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from buildlog.analysis.answers.plan_quotes import Quote
from buildlog.desk.snapshot import settings
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import InvalidInput, UsageError
from buildlog.records.plan import Promised
from buildlog.records.recorded_promise import promise_of
from buildlog.units import parse

if TYPE_CHECKING:
    from buildlog.analysis.answers.plan_offers import PlanOffer
    from buildlog.analysis.car.version import Version
    from buildlog.analysis.prediction.predicted import Predicted, PredictionBand


def refuse_unready(offer: PlanOffer) -> None:
    """A quote is for a plan that changes something and leaves no question."""
    if offer.questions:
        one = offer.questions[0]
        raise UsageError(
            f"{one.path} was changed in the car since plan {offer.name} was made, and the plan "
            "changes it too",
            hint=f'say which: buildlog plan set {offer.name} {one.path}="..."',
        )
    if not offer.changes:
        built = "it is in the car; buildlog report STAGE says what came of it"
        raise InvalidInput(
            f"plan {offer.name} changes nothing",
            hint=built if offer.plan.promised else f"buildlog plan set {offer.name} PATH=VALUE",
        )


def promise_today(offer: PlanOffer, day: dt.date) -> Promised:
    """What a quote made on this day promises."""
    told: dict[str, object] = {"date": day, "base": offer.base.id}
    found = offer.predicted
    if found is None or found.changes_nothing:
        reason = offer.reason or "nothing that is predicted changes"
        return Promised(**told, reason=reason[:240])  # type: ignore[arg-type]
    start = found.start
    told |= {"at": start.at, "standard": start.standard}
    told |= {"start": found.before.id} if start.measured else {}
    before = found.raw.peak_power.mean - found.raw.peak_power_delta.mean
    told |= _figures("power", "W", before, found.peak_power)
    told |= _figures("torque", "N*m", _torque_before(found), found.peak_torque)
    return Promised(**told)  # type: ignore[arg-type]


def _torque_before(found: Predicted) -> float:
    """Peak torque of the curve that a prediction starts from [N*m]."""
    anchor = found.start.anchor
    return max(p / w for p, w in zip(anchor.power, anchor.omega, strict=True) if w > 0)


def _figures(name: str, unit: str, before: float, band: PredictionBand) -> dict[str, object]:
    digits = 0 if unit == "W" else 1
    ends = {"before": before, "p10": band.p10, "p50": band.p50, "p90": band.p90}
    return {f"{name}_{end}": parse(f"{x:.{digits}f} {unit}", (name,)) for end, x in ends.items()}


def quote_of(book: Snapshot, offer: PlanOffer, new: bool) -> Quote:
    """The page of a plan whose promise is stored."""
    promise = promise_of(offer.name, offer.plan)
    assert promise is not None
    assert offer.plan.promised is not None
    own = settings.load()
    base = next((one for one in book.history if one.id == offer.plan.promised.base), offer.base)
    return Quote(offer, promise, base, _read(book), own.shop, own.done_by, new)


def _read(book: Snapshot) -> Version | None:
    known = [one for one in book.history if one.odometer is not None and one.kind != "earlier"]
    return next((one for one in known if one.odometer == known[-1].odometer), None)
