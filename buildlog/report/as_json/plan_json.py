"""Plans for other programs: each alone, and several side by side."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict
from typing import Any

from buildlog.analysis.answers.plan_offers import PlanOffer
from buildlog.records.merge import Conflict
from buildlog.records.recorded_promise import PromisedBand, RecordedPromise
from buildlog.report.as_json.json_parts import change_json, value_json, version_json
from buildlog.report.as_json.margins_json import changes_json
from buildlog.report.as_json.prediction_json import predicted_json


def list_json(offers: Iterable[PlanOffer]) -> dict[str, Any]:
    """The body of `plan list --json`."""
    return {"plans": [_offer(one) for one in offers]}


def offer_json(offer: PlanOffer) -> dict[str, Any]:
    """The body of `plan show --json`."""
    return {**_offer(offer), "not_learned_from": list(offer.not_learned_from)}


def compare_json(offers: Sequence[PlanOffer]) -> dict[str, Any]:
    """The body of `plan compare --json`."""
    return {**list_json(offers), "not_learned_from": not_learned_from(offers)}


def not_learned_from(offers: Iterable[PlanOffer]) -> list[str]:
    """Ledgers of the shop that could not be read, for any of the plans."""
    return list(dict.fromkeys(text for one in offers for text in one.not_learned_from))


def _offer(offer: PlanOffer) -> dict[str, Any]:
    """One plan; price as the text that was declared."""
    return {
        "name": offer.name,
        "id": offer.version.id or None,
        "base": version_json(offer.base),
        "made_from": version_json(offer.made_from) if offer.made_from else None,
        "built_in": offer.built_in,
        "questions": [question_json(one) for one in offer.questions],
        "changes": [change_json(change) for change in offer.changes],
        "price": offer.plan.price,
        "currency": offer.plan.currency,
        "note": offer.plan.note,
        "price_per_w": asdict(offer.cost) if offer.cost else None,
        "predicted": predicted_json(offer.predicted) if offer.predicted else None,
        "predicted_from": version_json(offer.predicted.before) if offer.predicted else None,
        "predicted_reason": offer.reason,
        "must_change": [*offer.needs, *_outgrown_names(offer)],
        "breaks": list(offer.breaks),
        "unknown": [*offer.unknown, *blind_words(offer)],
        "owner_limits": [
            {"limit": one.name, "verdict": one.verdict.value, "why": one.why or None}
            for one in offer.limits
        ],
        "margins": changes_json(offer.margins) if offer.margins else [],
    }


def question_json(one: Conflict) -> dict[str, Any]:
    """A field that the car and the plan changed differently since the plan was made."""
    sides = {"when_planned": one.base, "car": one.ours, "plan": one.theirs}
    return {"path": one.path, **{name: value_json(side) for name, side in sides.items()}}


def _outgrown_names(offer: PlanOffer) -> list[str]:
    """For programs in words only: the figures stand in `margins`."""
    needs = offer.margins.needs if offer.margins else ()
    return [f"{one.name} {'would' if one.outgrown else 'may'} be past its limit" for one in needs]


def blind_words(offer: PlanOffer) -> list[str]:
    """Limits that grow with power and cannot be looked at."""
    names = [one.name for one in (offer.margins.blind if offer.margins else ())]
    if not names:
        return []
    return [f"whether these hold: {', '.join(names)}; see buildlog margins plan:{offer.name}"]


def promise_json(one: RecordedPromise) -> dict[str, Any]:
    """A stored promise."""
    return {
        "plan": one.plan,
        "date": one.date.isoformat(),
        "from": one.start,
        "at": one.at,
        "power_w": _band(one.power),
        "torque_nm": _band(one.torque),
        "accepted": one.accepted.isoformat() if one.accepted else None,
        "accepted_by": one.accepted_by,
        "accepted_how": one.accepted_how,
    }


def _band(one: PromisedBand | None) -> dict[str, float] | None:
    return asdict(one) if one else None
