"""How two machines read the same car: a ratio with its interval, from sessions on both.

Used to widen comparisons between those two machines in place of a default; never to
convert a headline number.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from buildlog.analysis.car.changes import power_neutral, unlike
from buildlog.analysis.car.history_files import Visit
from buildlog.analysis.pulls.measured import Measured, Relation, measured
from buildlog.analysis.pulls.sheet import PullGroup, Sheet
from buildlog.physics.numerics import repeatability, student
from buildlog.physics.numerics.between_days import DaySpread, RepeatVisit, between_days
from buildlog.physics.numerics.repeatability import DifferenceSource, Scatter
from buildlog.records.paths import assembly

Side = tuple[Sheet, PullGroup]
ANOTHER_DAY = repeatability.DIFFERENCE_DEFAULTS["another day"]


def same_car_pairs(
    visits: Sequence[Visit], first: str, second: str
) -> Iterator[tuple[Visit, Visit, str | None]]:
    """Visits to the two machines whose configurations differ in nothing that moves power,
    with the calibration that both used. Each visit to the second counts once."""
    ones = [v for v in visits if dyno_id(v) == first]
    for other in (v for v in visits if dyno_id(v) == second):
        for one in reversed(ones):
            found, calibration = _alike(one, other)
            if found:
                yield one, other, calibration
                break


def dyno_id(visit: Visit) -> str | None:
    """The shop's name for the machine of a visit."""
    return visit.session.dyno.id if visit.session.dyno else None


MOST_REPEATS = 8  # the newest visits of an unchanged car that are asked


@dataclass(frozen=True)
class RepeatGroups:
    """One car's visits to one dyno between which nothing that moves power changed: in groups, with
    the scatter of their pulls where it was measured."""

    groups: tuple[tuple[RepeatVisit, ...], ...]
    scatter: Scatter | None


def repeat_visits(
    visits: Sequence[Visit], dyno: str, side: Callable[[str, str | None], Side | None]
) -> RepeatGroups:
    """The visits of a car to a dyno that tell how much it differs from day to day; no group without
    two such visits on different days. `side` as for `relate`."""
    own = [visit for visit in visits if dyno_id(visit) == dyno][-MOST_REPEATS:]
    found = [
        [(visit, here) for visit, calibration in group if (here := side(visit.name, calibration))]
        for group in _unchanged(own)
    ]
    told = [group for group in found if len(group) > 1]
    scatters = [one[0].scatter for group in told for _, one in group]
    groups = tuple(tuple(_levels(group)) for group in told)
    return RepeatGroups(groups, repeatability.combine_scatter(scatters))


def day_spread(own: RepeatGroups, others: Sequence[RepeatGroups] = ()) -> DaySpread | None:
    """How much a dyno differs from day to day, by the repeat visits of a car and of the shop's
    others; None where there is none."""
    counted = [one for one in (own, *others) if one.groups]
    scatters = [one.scatter for one in counted if one.scatter]
    pooled = repeatability.combine_scatter(scatters) or repeatability.typical_scatter()
    words = "an unchanged car"
    if counted != [own]:
        cars = len(counted)
        words = f"{cars} unchanged cars of this shop" if cars > 1 else "another car of this shop"
    return between_days([group for one in counted for group in one.groups], pooled.s, words)


def _unchanged(visits: Sequence[Visit]) -> Iterator[list[tuple[Visit, str | None]]]:
    """Visits in a row on different days between which nothing moved power, two at least, with the
    calibration that each shares with its neighbour."""
    group: list[tuple[Visit, str | None]] = []
    for visit in visits:
        last = group[-1][0] if group else None
        alike, calibration = _alike(last, visit) if last else (False, None)
        if last and alike and last.session.date != visit.session.date:
            group = [*group[:-1], (last, calibration)] if len(group) == 1 else group
        else:
            if len(group) > 1:
                yield group
            group = []
        group.append((visit, calibration))
    if len(group) > 1:
        yield group


def _levels(group: Sequence[tuple[Visit, Side]]) -> list[RepeatVisit]:
    """The mean power of each visit over the range that all of them share."""
    grids = [sheet.grid[np.isfinite(one.mean)] for _, (sheet, one) in group]
    low, high = max(grid[0] for grid in grids), min(grid[-1] for grid in grids)
    out = []
    for visit, (sheet, one) in group:
        here = (sheet.grid >= low) & (sheet.grid <= high)
        if here.any():
            day = visit.session.date.toordinal()
            out.append(RepeatVisit(float(np.mean(one.mean[here])), one.pulls, day))
    return out


def _alike(one: Visit, other: Visit) -> tuple[bool, str | None]:
    shared = [c for c in reversed(one.calibrations) if c in other.calibrations]
    if not shared:
        return False, None
    same = all(
        power_neutral(path) or (shared[0] is not None and assembly(path) == "calibration")
        for path in unlike(one.owner.configuration, other.owner.configuration)
    )
    return same, shared[0]


def relate(
    visits: Sequence[Visit],
    first: str,
    second: str,
    side: Callable[[str, str | None], Side | None],
    days: tuple[DifferenceSource, DifferenceSource] = (ANOTHER_DAY, ANOTHER_DAY),
) -> Relation | None:
    """The ratio of the second machine to the first; None without a pair of visits.

    `side` gives the sheet and group of a session by its name and calibration; `days` how much each
    machine differs from day to day. The interval
    is the larger of two: what scatter and another day leave of each pair, divided by the
    root of their number, and, with two pairs or more, Student's t on the ratios themselves.
    """
    names, ratios, variances, kept = [], [], [], []
    # Two days of one machine differ by both of them; here each machine has one.
    day = sum(one.u_normal**2 for one in days) / 2
    for one, other, calibration in same_car_pairs(visits, first, second):
        sides = side(one.name, calibration), side(other.name, calibration)
        if sides[0] is None or sides[1] is None:
            continue
        result = measured(sides[0][0], sides[1][0], (sides[0][1], sides[1][1]))
        if not isinstance(result, Measured) or not result.comparable:
            continue
        ratios.append(float(np.mean(result.mean_to) / np.mean(result.mean_from)))
        variances.append(_own_variance(result) + day)
        names.append((one.name, other.name))
        kept.append(result.scatter.dof)
    if not ratios:
        return None
    logs = np.log(ratios)
    n = len(ratios)
    own = repeatability.Z95 * math.sqrt(sum(variances)) / n
    half, dof = own, float(min(kept))
    if n > 1:
        t = student.quantile(0.975, n - 1)
        half, dof = max(own, t * float(logs.std(ddof=1)) / math.sqrt(n)), float(n - 1)
    return Relation(
        first, second, math.exp(float(logs.mean())), half, tuple(names), tuple(ratios), dof
    )


def _own_variance(result: Measured) -> float:
    """Variance of one pair's ratio: scatter of the pulls, and every difference but the dyno's."""
    n1, n2 = result.pulls
    t = student.quantile(0.975, result.scatter.dof)
    own = (t / repeatability.Z95) ** 2 * result.scatter.s**2 * (1 / n1 + 1 / n2)
    others = sum(part.u_normal**2 for part in result.parts if part.key != "another dyno")
    return own + others
