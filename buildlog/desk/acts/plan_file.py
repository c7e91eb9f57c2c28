"""plan.toml as it is assigned on the command line: price, currency, charges, time, note."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence

from buildlog.desk.acts.car_fields import split
from buildlog.errors import InvalidInput
from buildlog.records.plan import CURRENCY, PRICE, Plan
from buildlog.records.reading import read
from buildlog.records.toml import toml_edit
from buildlog.store.ledger.plan_branches import PLAN

_CHARGE = re.compile(r"charge\[(?P<what>.+)\](?:\.(?P<field>price|why))?")
OWN = re.compile(rf"(?:price|currency|note|time|valid_until)$|{_CHARGE.pattern}$")


def plan_edited(data: bytes, assignments: list[str]) -> bytes:
    """The text with every assignment made; InvalidInput if the result is not valid."""
    told = [split(one) for one in assignments]
    data = _charged(data, [one for one in told if _CHARGE.match(one[0])])
    for path, value in told:
        if not _CHARGE.match(path):
            data = _set(data, path, value)
    try:
        plan = read(Plan, data, PLAN)
    except InvalidInput as error:
        what, hint = _own_words(dict(told)) or (error.what, error.hint)
        raise InvalidInput(what, why="not saved", hint=hint) from None
    _refuse_unequal(plan, [path for path, _ in told])
    return data


def _set(data: bytes, path: str, value: str) -> bytes:
    if not value:
        there = f"\n{path} =".encode() in b"\n" + data
        return toml_edit.delete(data, path) if there else data
    return toml_edit.set_value(data, (path,), _day(value) if path == "valid_until" else value)


def _day(value: str) -> dt.date:
    try:
        return dt.date.fromisoformat(value)
    except ValueError:
        raise InvalidInput(
            f'valid_until is "{value}", which is no date', why="not saved",
            hint="write it as valid_until=2026-05-10",
        ) from None  # fmt: skip


def _charged(data: bytes, told: Sequence[tuple[str, str]]) -> bytes:
    """Lines of the quote: `charge[clutch]=1690`; an empty value takes one out. All of them are
    gathered before the text is edited once, so that a long quote costs no more than its length."""
    if not told:
        return data
    places = {one.what: place for place, one in enumerate(read(Plan, data, PLAN).charge)}
    values: dict[str, str] = {}
    new: dict[str, dict[str, str]] = {}
    gone: list[str] = []
    for path, value in told:
        found = _CHARGE.fullmatch(path)
        assert found is not None
        what, field = found["what"], found["field"] or "price"
        if value and field == "price":
            _refuse_price(value)
        if what in new:
            _in_a_new_line(new, what, field, value)
        elif what in places:
            place = f"charge.{places[what]}"
            if value:
                values[f"{place}.{field}"] = value
            elif field == "price":
                gone.append(place)
                del places[what]
            else:
                gone.append(f"{place}.{field}")
        elif field == "price" and value:
            new[what] = {"what": what, "price": value}
        else:
            raise InvalidInput(
                f'there is no charge "{what}"', why="not saved",
                hint=f"begin it with its price: charge[{what}]=1690.00",
            )  # fmt: skip
    data = toml_edit.set_values(data, values) if values else data
    for place in sorted(gone, key=lambda one: -int(one.split(".")[1])):
        data = toml_edit.delete(data, place)
    return toml_edit.append_items(data, "charge", list(new.values())) if new else data


def _in_a_new_line(new: dict[str, dict[str, str]], what: str, field: str, value: str) -> None:
    if value:
        new[what][field] = value
    elif field == "price":
        del new[what]
    else:
        new[what].pop(field, None)


def _refuse_price(text: str) -> None:
    if wrong := _own_words({"price": text}):
        raise InvalidInput(wrong[0], why="not saved", hint=wrong[1])


def _refuse_unequal(plan: Plan, named: list[str]) -> None:
    """A price that is not the sum of its charges is one of two slips."""
    if plan.unaccounted and any(path == "price" or path.startswith("charge") for path in named):
        total = sum(float(one.price) for one in plan.charge)
        raise InvalidInput(
            f"price is {plan.price}, and the charges come to {total:.2f}",
            why="not saved",
            hint="leave price= empty: then their sum is the price",
        )


def _own_words(given: dict[str, str]) -> tuple[str, str] | None:
    """What is wrong with a price or a currency, and how it is written."""
    price, currency = given.get("price", ""), given.get("currency", "")
    if price and not re.fullmatch(PRICE, price):
        digits = re.sub(r"[ ']", "", price).replace(",", ".")
        hint = f"price={digits}" if re.fullmatch(PRICE, digits) else "price=5200.00"
        what = f'price is "{price}": digits with a decimal point are needed'
        return what, f"write a decimal point and nothing between the digits: {hint}"
    if currency and not re.fullmatch(CURRENCY, currency):
        what = f'currency is "{currency}", and not three capital letters'
        return what, "write the letters of ISO 4217: currency=EUR"
    return None
