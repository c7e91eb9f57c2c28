"""How much one dyno differs from day to day, from repeat visits of a car that was not changed.

The scatter of the pulls within a visit is taken out of the spread between visits; what is left is
shrunk toward what is usual (a scaled inverse chi-square prior worth four degrees of freedom), for
two visits alone would say anything between nothing and far too much.
Sources: one-way analysis of variance with random effects, as ISO 5725-2 separates within and
between (from memory); 1.5 % for a difference of two days is common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from buildlog.physics.numerics.repeatability import DIFFERENCE_DEFAULTS, DifferenceSource

USUAL = DIFFERENCE_DEFAULTS["another day"].u / math.sqrt(2)  # of one visit, relative
PRIOR_DOF = 4  # how many visits' worth of evidence the usual figure counts as
LEAST_DIFFERENCE = 0.005  # of two days, relative: no dyno repeats better over days
ONE_SEASON = 30  # [days] visits closer together say nothing of other weather


@dataclass(frozen=True)
class DaySpread:
    """Standard deviation of one visit about the dyno's own mean, relative, and what it rests on:
    so many visits of these cars, the furthest two of one car so many days apart."""

    s: float
    dof: float
    visits: int
    days: int
    cars: str = "an unchanged car"

    @property
    def of_difference(self) -> float:
        """Standard deviation of the difference of two days, relative."""
        return max(math.sqrt(2) * self.s, LEAST_DIFFERENCE)

    @property
    def source(self) -> DifferenceSource:
        """The same as a reason for a wider interval."""
        close = ", all of one season" if self.days < ONE_SEASON else ""
        text = f"another day on the same dyno (from {self.visits} visits of {self.cars}{close})"
        return DifferenceSource("another day", text, self.of_difference, self.dof)


def stated_days(u: float, source: str) -> DifferenceSource:
    """The standard deviation of a difference of two days, relative, that a shop states itself."""
    return DifferenceSource("another day", "another day on the same dyno", u, basis=source)


@dataclass(frozen=True)
class RepeatVisit:
    """A visit of an unchanged car: its level (a power, say), how many pulls, the day's number."""

    level: float
    pulls: int
    day: int


def between_days(
    cars: Sequence[Sequence[RepeatVisit]], s_r: float, words: str = DaySpread.cars
) -> DaySpread | None:
    """The spread between visits, from groups of visits of one unchanged car each.

    Formula: b = max(0, var(x) - s_r^2/n), x levels relative to their group's mean, pooled over the
    groups, n the harmonic mean of the numbers of pulls; s^2 = (f b + 4 tau^2)/(f + 4), f the
    degrees of freedom (visits less groups), tau = 1.06 %.
    Inputs: groups of visits, scatter s_r of one pull within a visit, relative; in words, whose.
    Result: DaySpread; None where no group has two visits.

    >>> car = [RepeatVisit(301.2, 3, 0), RepeatVisit(304.9, 3, 9), RepeatVisit(298.7, 3, 99)]
    >>> found = between_days([car], 0.004)
    >>> round(found.of_difference, 5), found.dof
    (0.01476, 6)
    """
    groups = [group for group in cars if len(group) > 1]
    visits = [visit for group in groups for visit in group]
    free = len(visits) - len(groups)
    if not free:
        return None
    square = sum(_square(group) for group in groups) / free
    within = s_r**2 * sum(1 / visit.pulls for visit in visits) / len(visits)
    between = max(0.0, square - within)
    s = math.sqrt((free * between + PRIOR_DOF * USUAL**2) / (free + PRIOR_DOF))
    days = max(max(v.day for v in group) - min(v.day for v in group) for group in groups)
    return DaySpread(s, free + PRIOR_DOF, len(visits), days, words)


def _square(group: Sequence[RepeatVisit]) -> float:
    """Sum of squares of the levels about their mean, relative."""
    mean = sum(visit.level for visit in group) / len(group)
    return sum((visit.level / mean - 1) ** 2 for visit in group)
