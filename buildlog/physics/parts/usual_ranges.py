"""Numbers that cannot be what they are called: impossible levels.

Nothing is corrected here. Each function says how far a figure is from what it should be, as
data for a finding.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

Kind = Literal[
    "naturally aspirated spark ignition",
    "pressure-charged spark ignition",
    "naturally aspirated compression ignition",
    "pressure-charged compression ignition",
]
BMEP_CEILINGS: Mapping[Kind, float] = {
    "naturally aspirated spark ignition": 1.60e6,
    "pressure-charged spark ignition": 4.0e6,
    "naturally aspirated compression ignition": 1.10e6,
    "pressure-charged compression ignition": 3.5e6,
}  # Pa, at the crankshaft, beyond what road engines on gasoline or diesel reach; common practice


def beyond_kind(bmep: float, kind: Kind) -> float | None:
    """How far a brake mean effective pressure [Pa] is beyond any road engine of its kind.

    Result: bmep/ceiling - 1 where above the ceiling, else None. Ceilings are common practice.

    >>> round(beyond_kind(2.0e6, "naturally aspirated spark ignition"), 2)
    0.25
    """
    if kind not in BMEP_CEILINGS:
        raise ValueError(f"There is no ceiling for an engine of the kind {kind!r}.")
    over = bmep / BMEP_CEILINGS[kind] - 1
    return over if over > 0 else None


@dataclass(frozen=True)
class AgainstRating:
    """Wheel power of an unmodified car against its maker's crank rating.

    `implied_loss` = 1 - wheel/rating. `at_or_above` the rating; `optimistic` when the loss
    is under 10 %. `crank_range` [W]: wheel power over 0.88 and over 0.82, the usual estimate
    for a manual rear-drive car measured at the tyres. All common practice, no source.
    """

    implied_loss: float
    at_or_above: bool
    optimistic: bool
    crank_range: tuple[float, float]


def least_loss(box: str | None, driven: str | None, at_hubs: bool = False) -> float:
    """The least share of crank power that a driveline usually takes: below it one asks.

    10 % of a manual box with a driven rear axle measured at the tyres, 2 % less without the
    turn of the torque of a transverse engine (driven in front), 3 % more for a converter, 4 %
    more for a second driven axle, 3 % less at the hubs. Common practice, no source.

    >>> least_loss("manual", "rear"), round(least_loss("automatic", "all", at_hubs=True), 2)
    (0.1, 0.14)
    """
    least = 0.10 + {"front": -0.02, "all": 0.04}.get(driven or "", 0.0)
    return least + (0.03 if box == "automatic" else 0.0) - (0.03 if at_hubs else 0.0)


def against_rating(wheel_power: float, rating: float, least: float = 0.10) -> AgainstRating:
    """Compare wheel power [W] with the crank power [W] of the same car in the same state;
    `least`: the least share that its driveline usually takes.

    >>> result = against_rating(150e3, 176e3)
    >>> round(result.implied_loss, 3), [round(p / 1e3) for p in result.crank_range]
    (0.148, [170, 183])
    """
    if wheel_power <= 0 or rating <= 0:
        raise ValueError("Wheel power and rating must be above zero.")
    loss = 1 - wheel_power / rating
    return AgainstRating(loss, loss <= 0, loss < least, (wheel_power / 0.88, wheel_power / 0.82))
