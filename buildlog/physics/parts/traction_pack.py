"""A traction battery's power against what is stated for its state of charge.

A maker states a power, and often a lower one for a pack that is nearly empty. What a pack gave
counts against the one that is stated for the charge it had at that moment.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import inf

Draw = tuple[float | None, float]
"""The state of charge [-], None where it was not logged, and the power that was given [W]."""


def greatest(
    draws: Iterable[Draw], *, above: float | None = None, at_most: float | None = None
) -> float | None:
    """The greatest power [W] that a pack gave above a charge, or at it and below.

    Inputs: draws, and the charge [-] that parts them; without one all count. A draw of which the
    charge is not known counts as above: only what is known to be nearly empty may give less. None
    where no draw counts. Source: definition.

    >>> greatest([(0.8, 150e3), (0.2, 70e3), (None, 90e3)], above=0.2)
    150000.0
    >>> greatest([(0.8, 150e3), (0.2, 70e3), (None, 90e3)], at_most=0.2)
    70000.0
    """
    found = [
        power
        for charge, power in draws
        if (above is None or charge is None or charge > above)
        and (at_most is None or (charge is not None and charge <= at_most))
    ]
    return max(found, default=None)


def telling(draws: Iterable[Draw]) -> tuple[Draw, ...]:
    """Those draws that are the greatest for some charge to part them at; no other is needed.

    >>> telling([(0.8, 150e3), (0.5, 100e3), (0.2, 70e3), (0.2, 60e3)])
    ((0.2, 70000.0), (0.5, 100000.0), (0.8, 150000.0))
    >>> telling([(0.8, 150e3), (0.5, 100e3), (0.2, 170e3)])
    ((0.2, 170000.0), (0.8, 150000.0))
    """
    known = sorted(set(draws), key=lambda one: (inf if one[0] is None else one[0], one[1]))
    return tuple(sorted(
        {*_records(known), *_records(known[::-1])},
        key=lambda one: (inf if one[0] is None else one[0], one[1]),
    ))  # fmt: skip


def _records(draws: Sequence[Draw]) -> list[Draw]:
    """Those that are greater than all before them; of one charge, the greatest."""
    by_charge: dict[float | None, float] = {}
    for charge, power in draws:
        by_charge[charge] = max(power, by_charge.get(charge, -inf))
    out: list[Draw] = []
    for charge, power in by_charge.items():
        if not out or power > out[-1][1]:
            out.append((charge, power))
    return out
