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
class AgainstCrank:
    """Wheel power against the crank power of the same engine.

    `implied_loss` = 1 - wheel/crank. `at_or_above` the crank's; `optimistic` where less is lost
    than usual, `low` where more is.
    """

    implied_loss: float
    at_or_above: bool
    optimistic: bool
    low: bool


def usual_loss(
    crank: float,
    box: str | None,
    driven: str | None,
    *,
    at_hubs: bool = False,
    two_standards: bool = False,
    gross: bool = False,
) -> tuple[float, float]:
    """The least and the most of its crank power [W] that a driveline usually takes, as shares.

    At the tires of a manual box with a driven rear axle 8 % and 2.5 kW at least, 18 % and 9 kW at
    most: the part that does not grow with power weighs more on a small engine. 2 % less without
    the turn of the torque of a transverse engine (driven in front); a second driven axle 4 % more
    at least and 6 % at most, a converter 3 and 7 %; 3 % less at the hubs. Figures of two standards
    leave 3 % either way, one of an engine without its accessories (gross) 20 % more at most. All
    common practice, no source.

    >>> [round(share, 3) for share in usual_loss(125e3, "manual", "rear")]
    [0.1, 0.252]
    >>> [round(share, 3) for share in usual_loss(125e3, "automatic", "all", at_hubs=True)]
    [0.14, 0.352]
    """
    if crank <= 0:
        raise ValueError("Crank power must be above zero.")
    least, most = 0.08 + 2.5e3 / crank, 0.18 + 9e3 / crank
    shift = {"front": (-0.02, -0.02), "all": (0.04, 0.06)}.get(driven or "", (0.0, 0.0))
    if box == "automatic":
        shift = (shift[0] + 0.03, shift[1] + 0.07)
    common = -0.03 if at_hubs else 0.0
    apart = 0.03 if two_standards else 0.0
    return (
        least + shift[0] + common - apart,
        most + shift[1] + common + apart + (0.20 if gross else 0.0),
    )


def against_crank(wheel: float, crank: float, usual: tuple[float, float]) -> AgainstCrank:
    """Compare wheel power [W] with the crank power [W] of the same car in the same state; `usual`:
    what its driveline usually takes (`usual_loss`).

    >>> result = against_crank(150e3, 176e3, (0.094, 0.231))
    >>> round(result.implied_loss, 3), result.optimistic, result.low
    (0.148, False, False)
    """
    if wheel <= 0 or crank <= 0:
        raise ValueError("Power at the wheels and at the crank must be above zero.")
    loss = 1 - wheel / crank
    return AgainstCrank(loss, loss <= 0, 0 < loss < usual[0], loss > usual[1])
