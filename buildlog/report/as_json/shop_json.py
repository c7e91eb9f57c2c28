"""The shop for other programs: SI numbers, days as ISO dates, odometers in kilometres."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from buildlog.analysis.answers import shop_tables as shop
from buildlog.analysis.answers.shop_tables import PartFaults, attention
from buildlog.report.numbers import kilometres


def shop_json(found: shop.ShopAnswer) -> tuple[str, dict[str, Any]]:
    """The name of the document and its body."""
    name, body = _document(found)
    unread = [{"ledger": place, "problem": problem} for place, problem in found.unread]
    gone = [{"name": one.name, "problem": one.problem} for one in found.unreached]
    return name, {**body, "not_read": unread, "not_reached": gone}


def shop_rows(found: shop.ShopAnswer) -> list[dict[str, Any]]:
    """The rows for a spreadsheet; of gains the stages behind them."""
    _, body = _document(found)
    rows: list[dict[str, Any]] = body["stages" if "stages" in body else next(iter(body))]
    return rows


def _document(found: shop.ShopAnswer) -> tuple[str, dict[str, Any]]:
    """The name of the document and what is its own, the rows first."""
    match found:
        case shop.ShopDue(cars=cars):
            return "shop-due", {"due": [_due(*one, item) for one in cars for item in one[1]["due"]]}
        case shop.ShopStanding(cars=cars):
            return "shop-list", {"cars": [car_json(*one) for one in cars]}
        case shop.ShopFound(hits=hits):
            return "shop-find", {"found": [hit_json(*hit) for hit in hits]}
        case shop.ShopGains(table=table, stages=stages):
            each = [{"ledger": ledger, **stage} for ledger, stage in stages]
            body = {
                "gains": [asdict(one) for one in table],
                "stages": each,
                "left_out": list(found.left_out),
            }
            return "shop-gains", body
        case shop.ShopFaults(table=table):
            return "shop-faults", {"faults": faults_json(table)}
    raise TypeError(type(found).__name__)


def _due(ledger: str, facts: shop.Facts, item: shop.Facts) -> dict[str, Any]:
    return {"ledger": ledger, "name": facts["name"], **due_json(item)}


def car_json(ledger: str, facts: shop.Facts) -> dict[str, Any]:
    """One car of `shop list`."""
    if facts.get("problem"):
        return {"ledger": ledger, "problem": facts["problem"]}
    return {
        "ledger": ledger,
        "id": facts["id"],
        "head": facts["head"],
        "name": facts["name"],
        "stage": facts["stage"],
        "since": facts["since"],
        "date": facts["date"],
        "odometer_km": kilometres(facts["odometer"]),
        "attention": attention(facts)[0],
        "holds_up": [_held(item) for item in facts["holds_up"]],
        "tightest": facts["tightest"],
        "last_wheel_power_w": facts["last_power"],
        "last_wheel_power_date": facts["last_power_day"],
        "due": [due_json(item) for item in facts["due"]],
        "waiting": facts["waits"],
    }


def _held(item: shop.Facts) -> dict[str, Any]:
    return {
        "step": item["step"],
        "why": item["why"],
        "gate": item["gate"],
        "left_km": kilometres(item["left"]),
    }


def due_json(item: shop.Facts) -> dict[str, Any]:
    """One thing that is due."""
    return {
        "due": item["code"],
        "what": item["what"],
        "left_km": kilometres(item["left"]),
        "since": item["since"],
        "on": item.get("on"),
    }


def hit_json(ledger: str, name: str, span: shop.Facts) -> dict[str, Any]:
    """One car that has or had a value."""
    return {
        "ledger": ledger,
        "name": name,
        "path": span["path"],
        "value": span_text(span),
        "from": _point(span["from"]),
        "to": _point(span["to"]) if span["to"] else None,
    }


def span_text(span: shop.Facts) -> str:
    """A value as it may be shown: a VIN by its end."""
    from buildlog.report.as_json.json_parts import VIN, shown_vin

    return shown_vin(span["text"]) if span["path"] == VIN else str(span["text"])


def _point(point: shop.Facts) -> dict[str, Any]:
    return {
        "entry": point["entry"],
        "date": point["day"],
        "odometer_km": kilometres(point["odometer"]),
        "found": point["found"],
    }


def faults_json(found: Sequence[PartFaults]) -> list[dict[str, Any]]:
    """Faults by part number."""
    return [
        {
            "part": one.part,
            "number": one.number,
            "maker": one.maker,
            "faults": one.count,
            "open": one.open,
            "cars": one.cars,
            "distance_at_failure_km": [kilometres(run) for run in one.distances],
            "distance_unknown": one.unknown,
            "why_unknown": list(one.reasons),
            "symptoms": list(one.symptoms),
        }
        for one in found
    ]
