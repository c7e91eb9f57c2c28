"""Scatter between days: against published analyses of variance, on paper, and by simulation."""

from __future__ import annotations

import math

import numpy as np
import pytest

from buildlog.physics.numerics import student
from buildlog.physics.numerics.between_days import (
    PRIOR_DOF,
    USUAL,
    RepeatVisit,
    between_days,
)
from buildlog.physics.numerics.repeatability import (
    DIFFERENCE_DEFAULTS,
    Scatter,
    combine_differences,
    half_width_95,
    pooled_scatter,
)

# Strength of fabric from four looms, four pieces each: D. C. Montgomery, Design and Analysis of
# Experiments, the example of the random-effects model (from memory): mean squares 29.73 between
# and 1.90 within, variance between looms 6.96.
LOOMS = [[98, 97, 99, 96], [91, 90, 93, 92], [96, 95, 97, 95], [95, 96, 99, 98]]


def variance_between(found_s: float, free: int) -> float:
    """The estimate before it was shrunk, relative."""
    return ((free + PRIOR_DOF) * found_s**2 - PRIOR_DOF * USUAL**2) / free


def test_the_variance_between_is_that_of_a_published_example() -> None:
    rows = np.array(LOOMS, dtype=float)
    mean = rows.mean()
    s_r = math.sqrt(rows.var(axis=1, ddof=1).mean()) / mean
    assert (s_r * mean) ** 2 == pytest.approx(1.90, abs=0.005)
    visits = [RepeatVisit(float(row.mean()), 4, n) for n, row in enumerate(rows)]
    found = between_days([visits], s_r)
    assert found is not None
    assert variance_between(found.s, 3) * mean**2 == pytest.approx(6.96, abs=0.01)


# Sulfur in coal, per cent by mass, eight laboratories at level 1: ISO 5725-2, the worked example of
# its annex B (data and answers from memory, and the one makes the other): mean 0.690, s_r 0.015,
# s_R 0.026.
COAL = [
    [0.71, 0.71, 0.70, 0.71], [0.69, 0.67, 0.68], [0.66, 0.65, 0.69], [0.67, 0.65, 0.66],
    [0.70, 0.69, 0.66, 0.71, 0.69], [0.73, 0.74, 0.73], [0.71, 0.71, 0.69], [0.70, 0.65, 0.68],
]  # fmt: skip


def test_within_and_between_are_those_of_the_worked_example_of_iso_5725() -> None:
    """Laboratories in place of days. The standard weighs unequal numbers; we do not, for there are
    few of them: the same to 5 %."""
    rows = [np.array(row) for row in COAL]
    mean = float(np.concatenate(rows).mean())
    free = sum(row.size - 1 for row in rows)
    s_r = math.sqrt(sum(row.var(ddof=1) * (row.size - 1) for row in rows) / free)
    assert (round(mean, 3), round(s_r, 3)) == (0.690, 0.015)
    groups = [np.outer(row / mean, np.ones(3)) for row in rows]
    pooled = pooled_scatter(groups)
    assert pooled is not None
    assert pooled.s * mean == pytest.approx(0.015, abs=0.0005)
    visits = [RepeatVisit(float(row.mean()), row.size, n) for n, row in enumerate(rows)]
    found = between_days([visits], s_r / mean)
    assert found is not None
    between = variance_between(found.s, 7) * mean**2
    assert math.sqrt(between + s_r**2) == pytest.approx(0.026, rel=0.05)


def test_an_independent_analysis_of_variance_agrees() -> None:
    """scipy's one-way F is the ratio of the two mean squares."""
    from scipy.stats import f_oneway

    rng = np.random.default_rng(5)
    rows = 300 * (1 + rng.normal(0, 0.01, (6, 1)) + rng.normal(0, 0.004, (6, 3)))
    mean = rows.mean()
    s_r = math.sqrt(rows.var(axis=1, ddof=1).mean()) / mean
    f = float(f_oneway(*rows).statistic)
    found = between_days([[RepeatVisit(float(r.mean()), 3, n) for n, r in enumerate(rows)]], s_r)
    assert found is not None
    assert variance_between(found.s, 5) == pytest.approx((f - 1) * s_r**2 / 3, rel=1e-9)


def test_three_visits_on_paper() -> None:
    """301.2, 304.9, 298.7, scatter 0.4 % over three pulls: 1.476 %, t(6), half-width 3.61 %."""
    visits = [RepeatVisit(p, 3, d) for p, d in ((301.2, 0), (304.9, 40), (298.7, 99))]
    found = between_days([visits], 0.004)
    assert found is not None
    assert found.of_difference == pytest.approx(0.01476, abs=2e-5)
    assert found.dof == 6
    u, parts = combine_differences(["another day"], {"another day": found.source})
    assert 1.959964 * u == pytest.approx(0.0361, abs=5e-5)
    assert parts[0].text == "another day on the same dyno (from 3 visits of an unchanged car)"


def test_visits_that_agree_wholly_still_leave_half_a_percent() -> None:
    visits = [RepeatVisit(300.0, 3, day) for day in range(40)]
    found = between_days([visits], 0.004)
    assert found is not None
    assert found.of_difference == 0.005
    assert "all of one season" not in found.source.text
    assert "all of one season" in between_days([visits[:7]], 0.004).source.text  # type: ignore[union-attr]


def test_one_visit_says_nothing() -> None:
    assert between_days([[RepeatVisit(300.0, 3, 0)], []], 0.004) is None


def test_a_car_with_one_visit_adds_nothing_to_what_others_tell() -> None:
    two = [RepeatVisit(300.0, 3, 739_000), RepeatVisit(303.0, 2, 739_041)]
    known = between_days([two], 0.004)
    assert known == between_days([[RepeatVisit(250.0, 1, 738_000)], two], 0.004)
    assert known is not None
    assert (known.visits, known.days) == (2, 41)


def test_a_known_spread_in_place_of_the_default_counts_with_its_own_t() -> None:
    default, _ = combine_differences(["another day"])
    assert default == DIFFERENCE_DEFAULTS["another day"].u
    known = between_days([[RepeatVisit(300.0, 3, 0), RepeatVisit(303.0, 3, 50)]], 0.004)
    assert known is not None
    u, (part,) = combine_differences(["another day"], {"another day": known.source})
    assert u == pytest.approx(part.u * student.quantile(0.975, 5) / 1.959963984540054)


@pytest.mark.parametrize(
    ("visits", "spread", "low", "high"),
    [
        (2, 0.0106, 0.95, 1.0),
        (5, 0.0106, 0.94, 1.0),
        (12, 0.0106, 0.92, 0.99),
        (5, 0.02, 0.84, 0.97),
    ],
)
def test_a_difference_of_two_days_is_covered(
    visits: int, spread: float, low: float, high: float
) -> None:
    """Simulation: 3 pulls of 0.5 % a visit; the next two days are new ones."""
    rng, inside, runs = np.random.default_rng([visits, 8]), 0, 600
    for _ in range(runs):
        days = spread * rng.standard_normal(visits + 2)
        levels = 1 + days + 0.005 / math.sqrt(3) * rng.standard_normal(visits + 2)
        known = between_days(
            [[RepeatVisit(float(level), 3, 9 * n) for n, level in enumerate(levels[:visits])]],
            0.005,
        )
        assert known is not None
        u, _ = combine_differences(["another day"], {"another day": known.source})
        half = half_width_95(Scatter(0.005, 10, 0, 0), 3, 3, u)
        inside += abs(levels[-1] - levels[-2]) <= half
    assert low <= inside / runs <= high
