"""A list's values as a person says them: "14.5 AFR", "13.4:1", "0.99 lambda", "43.5", "300 kPa".

A bare number is in the item's unit where it can be meant so. Where it cannot, and another common
unit would fit, it is asked about: a value never fails by its scale.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from buildlog.errors import InvalidInput
from buildlog.physics.gases.airfuel import DISPLAY_STOICHIOMETRIC
from buildlog.records.checks import ListItem
from buildlog.units import DIMENSIONS, Quantity, find, parse

_LAMBDA = (0.5, 5.0)  # what lambda can be in a running engine, idle of a diesel included
_LEAN = 2.0  # beyond it lambda is not taken without the word: "4.5" is more likely 14.5
_ABOUT_1 = (0.6, 1.6)  # what a list asks of lambda
_AIR_FUEL = (0.5, 2.0)  # of the multiplier: what a display in air-fuel ratio can show
_NUMBER = r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)"
_RATIO = re.compile(rf"({_NUMBER})\s*(?::\s*1|(?:to|/)\s*1|afr|a/f|air[- ]?fuel(?: ratio)?)", re.I)
_LAMBDA_SAID = re.compile(rf"(?:lambda|λ)?\s*=?\s*({_NUMBER})\s*(?:lambda|λ)?", re.I)
_SAYS_LAMBDA = re.compile(r"lambda|λ", re.I)
# The units a number without one may have been meant in, by what it measures.
_ALSO = {
    "pressure": ("psi", "kPa", "bar"), "temperature": ("degC", "degF"),
    "length": ("mm", "in"), "torque": ("N*m", "lb*ft"), "ratio": ("percent", "1"),
    "speed": ("km/h", "mph"), "voltage": ("V", "mV"), "mass_flow": ("g/s", "lb/h"),
}  # fmt: skip
_WIDER = 1.5  # beyond its limits or what is usual, how far a number still can be meant


@dataclass(frozen=True)
class Spoken:
    """A value as it is written down, and as it was said where that is something else."""

    value: str
    said: str | None = None


def is_lambda(asked: ListItem) -> bool:
    """Whether an item asks for lambda: it says so, or its limits without a unit lie about 1."""
    if asked.quantity or asked.unit:
        return asked.quantity == "lambda"
    ends = [_bare(one) for one in (asked.low, asked.high) if one]
    return bool(ends) and all(one is not None and _ABOUT_1[0] <= one <= _ABOUT_1[1] for one in ends)


def taken(text: str, asked: ListItem, multiplier: float | None = None) -> Spoken:
    """A value as it is meant; InvalidInput says what it may mean and what to type.

    `multiplier` is what the instrument shows for lambda 1, where a session said so.

    >>> item = ListItem(key="cruise", text="Lambda cruising", value=True, quantity="lambda")
    >>> taken("14.5 AFR", item), taken("0.99 lambda", item).value
    (Spoken(value='0.986', said='14.5 AFR (lambda 1 = 14.7)'), '0.99')
    """
    plain = text.strip()
    if is_lambda(asked):
        return _lambda(plain, multiplier or DISPLAY_STOICHIOMETRIC)
    number = _bare(plain)
    if number is None:
        return Spoken(plain)
    if not asked.unit:
        return Spoken(plain)
    _refuse_scale(plain, number, asked)
    return Spoken(f"{plain} {asked.unit}")


def _lambda(text: str, multiplier: float) -> Spoken:
    """Lambda as it is written down; an air-fuel ratio is divided by what the instrument shows for
    lambda 1, and that is said."""
    if found := _RATIO.fullmatch(text):
        return _from_ratio(float(found[1]), found[0], multiplier)
    found = _LAMBDA_SAID.fullmatch(text)
    if found is None:
        hint = 'write "0.99 lambda" or "14.5 AFR"'
        if "," in text:
            hint = f'write a decimal point: "{text.replace(",", ".")}"'
        raise InvalidInput(f'"{text}" is no lambda and no air-fuel ratio', hint=hint)
    number = float(found[1])
    as_lambda = _LAMBDA[0] <= number <= _LAMBDA[1]
    if _SAYS_LAMBDA.search(text):
        if not as_lambda:
            hint = f'if it is an air-fuel ratio, write "{number:g} AFR"'
            raise InvalidInput(f"lambda {number:g} is none of a running engine", hint=hint)
        return Spoken(found[1])
    as_ratio = _AIR_FUEL[0] <= number / multiplier <= _AIR_FUEL[1]
    if as_lambda == as_ratio or (as_lambda and number > _LEAN):
        may_be = "may be lambda or" if as_lambda and as_ratio else "is neither a usual lambda nor"
        raise InvalidInput(f"{number:g} {may_be} an air-fuel ratio",
                           hint=f'write "{number:g} lambda" or "{number:g} AFR"')  # fmt: skip
    return Spoken(text) if as_lambda else _from_ratio(number, text, multiplier)


def _from_ratio(ratio: float, said: str, multiplier: float) -> Spoken:
    if not _AIR_FUEL[0] <= ratio / multiplier <= _AIR_FUEL[1]:
        raise InvalidInput(
            f"an air-fuel ratio of {ratio:g} is none where lambda 1 is {multiplier:g}",
            hint='write lambda itself: "0.99 lambda"',
        )
    plain = said if _bare(said) is None else f"{said} AFR"
    return Spoken(f"{ratio / multiplier:.3f}", f"{plain} (lambda 1 = {multiplier:g})")


def _refuse_scale(text: str, number: float, asked: ListItem) -> None:
    """InvalidInput where a number lies far from the item's limits in the item's unit, and would
    not in another common one."""
    own = find(asked.unit or "", DIMENSIONS)
    low, high = _usual(asked)
    if own is None or (low is None and high is None):
        return
    if _near(own.to_si(number), low, high, own.dimension):
        return
    others = [one for one in _ALSO.get(own.dimension, ()) if one != own.text]
    fits = [one for one in others
            if (unit := find(one, (own.dimension,))) and _near(unit.to_si(number), low, high,
                                                               own.dimension)]  # fmt: skip
    if fits:
        meant = find(fits[0], (own.dimension,))
        assert meant is not None
        here = own.from_si(meant.to_si(number))
        share = fits[0] == "1"
        other = f"{here:.3g} {asked.unit}" if share else f"{text} {fits[0]}"
        same_here = "" if share else f" ({here:.3g} {asked.unit})"
        raise InvalidInput(
            f"{text} {asked.unit}, or {other}{same_here}?",
            hint=f'write it with its unit: "{other}" or "{text} {asked.unit}"',
        )


def _usual(asked: ListItem) -> tuple[Quantity | None, Quantity | None]:
    """Where a value usually lies: what the item says of it, else its limits."""
    ends = asked.usual.split(" to ") if asked.usual else [asked.low or "", asked.high or ""]
    texts = [one if _bare(one) is None else f"{one} {asked.unit}" for one in ends]
    read: list[Quantity | None] = []
    for text in texts:
        try:
            read.append(parse(text, DIMENSIONS) if text.strip() else None)
        except InvalidInput:
            read.append(None)
    return (read[0], read[-1]) if read else (None, None)


def _near(si: float, low: Quantity | None, high: Quantity | None, dimension: str) -> bool:
    """Whether a value lies within limits, or not far from them."""
    if dimension == "temperature":  # of kelvins no share is small: degrees decide
        return (low is None or si >= low.si - 30) and (high is None or si <= high.si + 30)
    least = None if low is None else min(low.si / _WIDER, low.si * _WIDER)
    most = None if high is None else max(high.si / _WIDER, high.si * _WIDER)
    return (least is None or si >= least) and (most is None or si <= most)


def _bare(text: str) -> float | None:
    return float(text) if re.fullmatch(_NUMBER, text.strip()) else None


def said_together(spoken: Sequence[Spoken]) -> str | None:
    """How the values were said, where that is something else than what is written down."""
    return "; ".join(one.said for one in spoken if one.said) or None
