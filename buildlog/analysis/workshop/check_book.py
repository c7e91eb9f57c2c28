"""Carried-out checklists: which is the newest of each, and what they leave undone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from buildlog.analysis.car.changes import changes
from buildlog.analysis.car.history_files import HistoryFiles
from buildlog.analysis.car.version import Version
from buildlog.analysis.car.written import Written
from buildlog.errors import InvalidInput
from buildlog.records.checks import Check, CheckedItem, Checklist, ListItem
from buildlog.units import DIMENSIONS, parse

_DONE = ("pass", "not-applicable")
_SLACK = 1e-9  # of a unit's rounding, so that a value equal to its limit passes


@dataclass(frozen=True)
class Done:
    """A carried-out list and the place of its entry in the history."""

    index: int
    name: str
    check: Check


@dataclass(frozen=True)
class ListState:
    """A list and how far it was gone through; without a `check` it was not yet.

    `path` is the file of the check.
    """

    definition: Checklist
    check: Check | None = None
    path: str | None = None


@dataclass(frozen=True)
class ListWritten(Written):
    """A list begun or gone on with; `item` is the one that got its result, if one did."""

    definition: Checklist
    check: Check
    item: CheckedItem | None = None


@dataclass(frozen=True)
class ItemAsked:
    """The next item of a list: as it stands, what the list asks of it, and which of how many."""

    item: CheckedItem
    asked: ListItem
    number: int
    of: int


def newest_lists(history: Sequence[Version], papers: HistoryFiles) -> list[Done]:
    """The newest of each list that was carried out, oldest first."""
    found: dict[str, Done] = {}
    for index, name, check in papers.checks_in(history):
        before = found.get(check.list)
        if before is None or (check.date, index) >= (before.check.date, before.index):
            found[check.list] = Done(index, name, check)
    return sorted(found.values(), key=lambda one: (one.index, one.check.date))


def unfinished(check: Check) -> list[str]:
    """The critical items that have not passed."""
    return [item.key for item in check.item if item.critical and item.result not in _DONE]


def left_open(check: Check) -> list[str]:
    """The items without a result."""
    return [item.key for item in check.item if item.result == "not-done"]


def to_go_on_with(check: Check) -> list[str]:
    """The items that are looked at again where a recorded list is gone on with: those without a
    result and those that failed; none where it is finished."""
    if not left_open(check) and not unfinished(check):
        return []
    return [item.key for item in check.item if item.result in ("not-done", "fail")]


def worked_since(history: Sequence[Version], done: Done) -> bool:
    """Whether the car was changed since a list was begun, so that it has to be begun anew."""
    then, now = history[done.index].configuration, history[-1].configuration
    return bool(changes(then, now))


def counted(check: Check) -> tuple[int, int]:
    """How many items have a result, and how many there are."""
    return sum(item.result != "not-done" for item in check.item), len(check.item)


def spread(history: Sequence[Version], papers: HistoryFiles, key: str) -> float | None:
    """How far the newest values of an item lie apart between cylinders.

    Of the highest for a quantity; the plain difference for values that are shares already.
    None where there are not two values.
    """
    found = None
    for _, _, check in papers.checks_in(history):
        for item in check.item:
            if item.key == key and (values := cylinder_values(item)):
                found = values
    if not found or len(found) < 2:
        return None
    low, high, shares = min(v for v, _ in found), max(v for v, _ in found), found[0][1] == "ratio"
    if shares:
        return high - low
    return (high - low) / high if high > 0 else None


def cylinder_values(item: CheckedItem) -> list[tuple[float, str]]:
    """The values of each cylinder in SI, with what they measure; empty where one is unreadable."""
    try:
        read = [parse(text, DIMENSIONS) for text in item.values or ()]
    except InvalidInput:
        return []
    return [(one.si, one.dimension) for one in read]


def one_each(text: str) -> list[str]:
    """Values of several cylinders typed in one line, each with the unit at the end.

    A comma counts as one between values only with a blank behind it: "12,9" is not two.

    >>> one_each("172 168 171 psi"), one_each("8 percent, 9 percent"), one_each("12,9")
    (['172 psi', '168 psi', '171 psi'], ['8 percent', '9 percent'], ['12,9'])
    """
    words = text.replace(", ", " ").replace(";", " ").split()
    places = [place for place, word in enumerate(words) if word[:1].isdigit()]
    if len(places) < 2:
        return [text]
    last = " ".join(words[places[-1] + 1 :])
    bare = places[-1] + 1 - places[0] == len(places)  # numbers in a row: the unit stands once
    if bare:
        return [f"{words[place]} {last}".strip() for place in places]
    ends = [*places[1:], len(words)]
    return [" ".join(words[start:end]) for start, end in zip(places, ends, strict=True)]


def inside(values: Sequence[str], low: str | None, high: str | None) -> bool | None:
    """Whether all values lie within the limits; None where there are none or one is unreadable.

    >>> inside(["0.99"], "0.97", "1.01"), inside(["300 kPa"], "42 psi", "45 psi")
    (True, True)
    """
    read = [_amount(text) for text in values]
    bounds = [_amount(limit) if limit else None for limit in (low, high)]
    if not read or None in read or bounds == [None, None]:
        return None
    for value in read:
        least, most = bounds
        if value is None or not _comparable(value, least) or not _comparable(value, most):
            return None
        if (least and value[0] < least[0] - _SLACK) or (most and value[0] > most[0] + _SLACK):
            return False
    return True


def outside_limits(check: Check) -> list[CheckedItem]:
    """Items that were passed with a value beyond their own limits."""
    return [
        item
        for item in check.item
        if item.result == "pass" and inside(values_of(item), item.low, item.high) is False
    ]


def values_of(item: CheckedItem) -> tuple[str, ...]:
    """The value or values that were written down."""
    return item.values or ((item.value,) if item.value else ())


def _amount(text: str) -> tuple[float, str] | None:
    """A value and what it measures; a plain number measures nothing."""
    number = _number(text.strip())
    if number is not None:
        return number, "number"
    try:
        quantity = parse(text, DIMENSIONS)
    except InvalidInput:
        return None
    return quantity.si, quantity.dimension


def _comparable(value: tuple[float, str], bound: tuple[float, str] | None) -> bool:
    return bound is None or bound[1] == value[1]


def _number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None
