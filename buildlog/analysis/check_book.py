"""Carried-out checklists: which is the newest of each, and what they leave undone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from buildlog.analysis.papers import Papers
from buildlog.analysis.version import Version
from buildlog.errors import InvalidInput
from buildlog.records.checks import Check, CheckedItem
from buildlog.units import DIMENSIONS, parse

_DONE = ("pass", "not-applicable")


@dataclass(frozen=True)
class Done:
    """A carried-out list and the place of its entry in the history."""

    index: int
    name: str
    check: Check


def newest_lists(history: Sequence[Version], papers: Papers) -> list[Done]:
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


def counted(check: Check) -> tuple[int, int]:
    """How many items have a result, and how many there are."""
    return sum(item.result != "not-done" for item in check.item), len(check.item)


def spread(history: Sequence[Version], papers: Papers, key: str) -> float | None:
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
