"""A plan as a set of changes: what it changed of the car it was made from, made to a newer one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from buildlog.errors import InvalidInput
from buildlog.records.car.configuration import Configuration
from buildlog.records.leaf_text import Leaves, differing, edited, fields
from buildlog.records.merge import Conflict, Side, merge
from buildlog.records.paths import Value, leaves
from buildlog.records.reading import read


@dataclass(frozen=True)
class Followed:
    """A car.toml with a plan's changes; `taken`: what the plan changes in it (None: removed);
    `questions`: fields that the car and the plan changed differently since the plan was made.
    Where nobody decided, the plan's value stands."""

    car: bytes
    taken: Mapping[str, Value | None]
    questions: tuple[Conflict, ...]


def changes_of(base: bytes, plan: bytes) -> dict[str, Value | None]:
    """What a plan changes of the car it was made from, by path; None where it removes a field."""
    was, now = fields(base), fields(plan)
    return dict(merge(was, was, now).taken)


def followed(
    base: bytes, car: bytes, plan: bytes, decided: Mapping[str, Side] | None = None
) -> Followed:
    """The plan's changes on top of `car`. InvalidInput where its text cannot be edited so."""
    was, mine, theirs = (leaves(read(Configuration, one, "car.toml")) for one in (base, car, plan))
    open_ = merge(was, mine, theirs, decided).conflicts
    sides: dict[str, Side] = {**{one.path: "theirs" for one in open_}, **(decided or {})}
    merged = merge(was, mine, theirs, sides)
    text = with_values(car, merged.values) if merged.taken else car
    return Followed(text, merged.taken, open_)


def with_values(data: bytes, meant: Leaves) -> bytes:
    """The text with these leaves; InvalidInput if it cannot be edited to hold them."""
    text = edited(data, meant)
    if wrong := differing(fields(text), meant):
        raise InvalidInput(
            f"car.toml cannot be edited to hold {min(wrong)} as merged",
            hint="set it with `buildlog set`, then adopt again",
        )
    return text
