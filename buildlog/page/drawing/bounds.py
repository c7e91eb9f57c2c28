"""The limits of a field in the unit that stands beside it, so that a browser tells at once when
what is typed lies outside; the desk judges what is saved."""

from __future__ import annotations

import re
from typing import NamedTuple

from buildlog.errors import InvalidInput
from buildlog.units import DIMENSIONS, Quantity, parse

_BARE = re.compile(r"-?\d+(\.\d+)?")


class Bounds(NamedTuple):
    """The least and the most as plain numbers, "" where nothing is stated; what is said beyond."""

    least: str = ""
    most: str = ""
    below: str = ""
    above: str = ""


def stated(low: str | None, high: str | None, unit: str) -> Bounds:
    """Of limits as they stand in a list; one that is not of the field's unit says nothing.

    >>> stated("28 psi", None, "bar").least, stated("0.97", "1.01", "").most
    ('1.93053', '1.01')
    """
    return Bounds(
        _number(low, unit), _number(high, unit), f"below {low}, the least stated",
        f"above {high}, the most stated",
    )  # fmt: skip


def between(low: float, high: float, of: Quantity, said: tuple[str, str]) -> Bounds:
    """Of values in SI, in the unit of `of`; `said`: the least and the most, as they are stated."""
    least, most = (f"{of.unit.from_si(value):.6g}" for value in (low, high))
    return Bounds(
        least, most, f"below {said[0]}, the least stated", f"above {said[1]}, the most stated"
    )


def _number(limit: str | None, unit: str) -> str:
    if not limit:
        return ""
    plain = limit.removesuffix(f" {unit}") if unit else limit
    if _BARE.fullmatch(plain):
        return plain
    try:
        beside, value = parse(f"1 {unit}", DIMENSIONS), parse(limit, DIMENSIONS)
    except InvalidInput:
        return ""
    same = beside.dimension == value.dimension
    return f"{beside.unit.from_si(value.si):.6g}" if same else ""
