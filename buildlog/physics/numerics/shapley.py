"""Fair shares of a joint effect: Shapley values, and what hangs on interaction."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import factorial

LIMIT = 8
"""Number of groups up to which all 2^n subsets are evaluated."""


@dataclass(frozen=True)
class Shares:
    """Shapley values, each group's effect alone, and the rest that no group has alone."""

    values: tuple[float, ...]
    alone: tuple[float, ...]
    total: float

    @property
    def interaction(self) -> float:
        """Total effect less the sum of the effects alone, in the unit of the value."""
        return self.total - sum(self.alone)

    @property
    def interaction_share(self) -> float:
        """|interaction| over the sum of the sizes of the effects alone; 0 if nothing changes."""
        size = sum(abs(x) for x in self.alone)
        return abs(self.interaction) / size if size else 0.0


def shapley_values(count: int, value: Callable[[frozenset[int]], float]) -> Shares:
    """Return each group's fair share of value(all) - value(none).

    Formula: phi_i = sum over S without i of |S|! (n-|S|-1)! / n! [v(S+i) - v(S)].
    Inputs: number of groups n, value of a set of group numbers (called once for each of
    the 2^n sets). Result: Shares; the values sum to the total.
    Validity: n up to 8 in sensible time; join groups beyond that (`join_smallest`).
    Errors: ValueError beyond LIMIT. Source: Shapley, A value for n-person games (1953)
    (from memory).

    >>> shapley_values(2, lambda s: 3.0 * (0 in s) + 1.0 * (1 in s)).values
    (3.0, 1.0)
    """
    if count > LIMIT:
        raise ValueError(f"shares of {count} groups need {2**count} evaluations: join some first.")
    table = [value(_members(code)) for code in range(2**count)]
    values = tuple(_share(table, count, i) for i in range(count))
    alone = tuple(table[1 << i] - table[0] for i in range(count))
    return Shares(values, alone, table[-1] - table[0])


def _members(code: int) -> frozenset[int]:
    return frozenset(i for i in range(code.bit_length()) if code >> i & 1)


def _share(table: Sequence[float], count: int, group: int) -> float:
    without = (code for code in range(2**count) if not code >> group & 1)
    return sum(
        _weight(code.bit_count(), count) * (table[code | 1 << group] - table[code])
        for code in without
    )


def _weight(size: int, count: int) -> float:
    return factorial(size) * factorial(count - size - 1) / factorial(count)


def join_smallest(
    sizes: Sequence[float], assemblies: Sequence[str], limit: int = LIMIT
) -> list[tuple[int, ...]]:
    """Return groups joined until at most `limit` are left.

    Rule: the smallest is joined to the smallest other of the same assembly, else to the
    smallest of all. Inputs: size of each group's effect alone, its assembly.
    Result: tuples of the original numbers, in the original order of their first member.
    Errors: none. Source: this project's rule.

    >>> join_smallest([5, 1, 4, 2], ["engine", "exhaust", "engine", "exhaust"], limit=3)
    [(0,), (1, 3), (2,)]
    """
    groups = zip(sizes, assemblies, strict=True)
    joined: list[tuple[tuple[int, ...], float, str]] = [
        ((i,), abs(size), name) for i, (size, name) in enumerate(groups)
    ]
    while len(joined) > limit:
        first, *others = sorted(joined, key=lambda g: (g[1], g[0]))
        second = next((g for g in others if g[2] == first[2]), others[0])
        members = tuple(sorted(first[0] + second[0]))
        others.remove(second)
        joined = [*others, (members, first[1] + second[1], second[2])]
    return sorted(g[0] for g in joined)
