"""What gives first when the power is raised: where each margin reaches its limit."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import pairwise

from buildlog.physics.numerics.arguments import above_zero
from buildlog.physics.numerics.band import Band
from buildlog.physics.parts.margin import Margin, State

Trial = Callable[[float], Margin]
"""A margin as a function of the raised quantity (power or boost), with everything that
depends on it, such as pump flow at the rail pressure of that boost, computed anew."""

# Fine enough to meet the first crossing of a curve that turns back, cheap enough to answer
# at once: 25 margins of microseconds each.
_STEPS = 60


@dataclass(frozen=True)
class Reach:
    """Where one margin reaches its limit, in the unit of the raised quantity.

    p10, p50, p90: for 10, 50 and 90 of 100 cases the limit is reached below this. None: not
    reached up to the top of the range; equal to the bottom: reached there or lower. monotone:
    False when what is left rises somewhere, so that the first of several crossings is given.
    """

    name: str
    p10: float | None
    p50: float | None
    p90: float | None
    monotone: bool


@dataclass(frozen=True)
class Headroom:
    """Limits in the order in which they are reached, and those that play no part in it."""

    reached: tuple[Reach, ...]
    not_reached: tuple[Reach, ...]
    over_throughout: tuple[str, ...]
    independent: tuple[Margin, ...]
    unknown: tuple[Margin, ...]


def headroom(trials: Mapping[str, Trial], low: float, high: float) -> Headroom:
    """Find where each margin first reaches its limit between two powers.

    Formula: what is left = 0, at P50, and at the worse and better end for P10 and P90; the
    range is walked in 60 steps to find the first change of sign, then halved 40 times.
    Inputs: trials by name; low and high [unit of the raised quantity, usually W].
    Result: Headroom, `reached` sorted by P50.
    Validity: a limit that is crossed and regained within one step is not seen.
    Errors: ValueError unless 0 < low < high.
    Source: bisection, textbook numerical analysis.
    """
    above_zero(low=low, high=high)
    if low >= high:
        raise ValueError(f"the range must rise, but goes from {low} to {high}.")
    points = [low + (high - low) * i / _STEPS for i in range(_STEPS + 1)]
    reaches: list[Reach] = []
    independent: list[Margin] = []
    unknown: list[Margin] = []
    for name, trial in trials.items():
        walk = [trial(x) for x in points]
        if any(m.state is State.UNKNOWN for m in walk):
            unknown.append(next(m for m in walk if m.state is State.UNKNOWN))
        elif len(set(_bands(walk))) == 1:  # what is left does not depend on the raised quantity
            independent.append(walk[0])
        else:
            reaches.append(_reach(name, trial, points, walk))
    inside = [(r.p50, n, r) for n, r in enumerate(reaches) if r.p50 is not None and r.p50 > low]
    return Headroom(
        reached=tuple(reach for *_, reach in sorted(inside)),
        not_reached=tuple(r for r in reaches if r.p50 is None),
        over_throughout=tuple(r.name for r in reaches if r.p50 == low),
        independent=tuple(independent),
        unknown=tuple(unknown),
    )


def _bands(walk: list[Margin]) -> list[Band]:
    return [m.left for m in walk if m.left is not None]


def _reach(name: str, trial: Trial, points: list[float], walk: list[Margin]) -> Reach:
    """Return the three crossings; the worse end of what is left crosses first."""
    middle = [b.p50 for b in _bands(walk)]
    return Reach(
        name,
        p10=_crossing(trial, points, walk, "p10"),
        p50=_crossing(trial, points, walk, "p50"),
        p90=_crossing(trial, points, walk, "p90"),
        monotone=all(later <= earlier for earlier, later in pairwise(middle)),
    )


def _crossing(trial: Trial, points: list[float], walk: list[Margin], end: str) -> float | None:
    """Return the first point past which one end of what is left is below zero."""

    def past(margin: Margin) -> bool:
        return bool(getattr(margin.left, end) < 0)

    first = next((i for i, m in enumerate(walk) if past(m)), None)
    if first is None or first == 0:
        return None if first is None else points[0]
    inside, outside = points[first - 1], points[first]
    for _ in range(40):
        middle = (inside + outside) / 2
        inside, outside = (inside, middle) if past(trial(middle)) else (middle, outside)
    return inside
