"""Quotes for other programs, the promise as stored; what was accepted, in words too."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from buildlog.analysis.answers.plan_quotes import Quote, QuoteRow
from buildlog.records.plan import Accepted
from buildlog.report.as_json.json_parts import change_json, version_json
from buildlog.report.as_json.plan_json import offer_json, promise_json
from buildlog.report.booklet.quote_page import lead
from buildlog.report.numbers import Display


def quotes_json(quotes: Sequence[Quote], show: Display) -> dict[str, Any]:
    """The body of `plan quote --json`."""
    return {"quotes": [_quote(one, show) for one in quotes]}


def _quote(one: Quote, show: Display) -> dict[str, Any]:
    plan = one.offer.plan
    return {
        "plan": one.offer.name,
        "says": lead(one, show),
        "new": one.new,
        "for": version_json(one.base),
        "price": str(plan.amount) if plan.amount is not None else None,
        "currency": plan.currency,
        "time": plan.time,
        "valid_until": plan.valid_until.isoformat() if plan.valid_until else None,
        "promised": promise_json(one.promise),
        "not_promised": plan.promised.reason if plan.promised else None,
        "rows": [_row(row) for row in one.rows],
        "offer": offer_json(one.offer),
    }


def _row(row: QuoteRow) -> dict[str, Any]:
    return {
        "what": row.name,
        "changes": [change_json(one) for one in row.changes],
        "gains": row.gains,
        "limit": row.because.name if row.because else None,
        "price": row.charge.price if row.charge else None,
        "why": row.charge.why if row.charge else None,
    }


def accepted_json(done: tuple[str, Accepted]) -> dict[str, Any]:
    """The body of `plan accept --json`."""
    name, said = done
    return {"plan": name, "date": said.date.isoformat(), "how": said.how, "by": said.by}


def accepted_lines(done: tuple[str, Accepted]) -> list[str]:
    """The same in words."""
    name, said = done
    return [
        f"plan {name}: quote accepted on {said.date}, {said.how}, noted by {said.by}",
        f"next: buildlog plan adopt {name}",
    ]
