"""Pulls of unequal length put together: no step where one ends, and an interval that holds."""

from __future__ import annotations

import numpy as np
import pytest

from buildlog.physics.numerics import student
from buildlog.physics.numerics.levelling import levelled

NAN = float("nan")
GRID = np.arange(2000.0, 6501.0, 50.0)
TRUE = 300 * (1 - 0.2 * ((GRID - 4400) / 2200) ** 2) * GRID / 6000
LONG = [102, 112.2, 122.4, 132.6, 142.8]


def pulls(rng: np.random.Generator, ends: tuple[float, ...]) -> np.ndarray:
    """Levels scatter by 0.6 %, noise of 0.15 % is correlated over 400 rpm, tilt by 0.1 %."""
    rows = []
    for end in ends:
        white, keep = rng.standard_normal(GRID.size), np.exp(-50 / 400)
        for i in range(1, GRID.size):
            white[i] = keep * white[i - 1] + np.sqrt(1 - keep**2) * white[i]
        tilt = 0.001 * rng.standard_normal() * (GRID - 4000) / 2000
        own = TRUE * (1 + 0.006 * rng.standard_normal()) * (1 + 0.0015 * white + tilt)
        rows.append(np.where(end >= GRID, own, NAN))
    return np.array(rows)


def test_a_short_pull_is_put_on_the_level_of_the_long_one() -> None:
    """Worked on paper: the second is 2 % above the first where both are."""
    found = levelled([[100, 110, 120, NAN, NAN], LONG], 0)
    assert found.levels == pytest.approx([1 / 1.01, 1.02 / 1.01], rel=1e-9)
    assert found.mean == pytest.approx([101, 111.1, 121.2, 131.3, 141.4], rel=1e-9)
    assert found.count.tolist() == [2, 2, 2, 1, 1]


def test_a_run_out_is_no_coverage() -> None:
    found = levelled([[100, 110, 120, 130, 0], LONG], 0)
    assert found.levels == pytest.approx([1 / 1.01, 1.02 / 1.01], rel=1e-9)
    assert found.mean[4] == pytest.approx(141.4, rel=1e-9)
    assert found.count[4] == 1


def test_pulls_of_one_length_have_their_plain_mean() -> None:
    rows = pulls(np.random.default_rng(1), (6500, 6500, 6500))
    found = levelled(rows, 6)
    assert found.mean == pytest.approx(rows.mean(axis=0), rel=1e-14)
    assert found.widening() == pytest.approx(np.ones(GRID.size))


def test_too_little_shared_is_said_and_nothing_is_levelled() -> None:
    early, late = TRUE.copy(), 1.1 * TRUE
    early[20:], late[:17] = NAN, NAN
    found = levelled([early, late], 0)
    assert not found.told
    assert found.levels.tolist() == [1, 1]


@pytest.mark.parametrize("ends", [(5150, 6000), (5150, 6000, 6000)])
def test_where_a_pull_ends_the_mean_makes_no_step(ends: tuple[float, ...]) -> None:
    at = int(np.searchsorted(GRID, 5150))
    steps, plain = [], []
    for seed in range(150):
        rows = pulls(np.random.default_rng(seed), ends)
        for mean, kept in ((levelled(rows, 6).mean, steps), (_plain(rows), plain)):
            over = mean / TRUE
            kept.append(float(over[at + 1] - over[at]))
    assert np.std(steps) < 0.0011
    assert np.std(plain) > 0.002  # what a plain mean would do


def _plain(rows: np.ndarray) -> np.ndarray:
    there = np.isfinite(rows)
    return np.where(there, rows, 0).sum(axis=0) / np.maximum(there.sum(axis=0), 1)


def test_the_interval_holds_at_the_far_end_too() -> None:
    inside = 0
    for seed in range(300):
        rng = np.random.default_rng([7, seed])
        rows = pulls(rng, (5150, 6500, 6500))
        found = levelled(rows, 6)
        shared = np.isfinite(rows).all(axis=0)
        relative = rows[:, shared] / rows[:, shared].mean(axis=0)
        s = float(np.sqrt(relative.var(axis=0, ddof=1).mean()))
        half = student.quantile(0.975, 2) * s / np.sqrt(3) * found.widening()[-5]
        inside += abs(found.mean[-5] / TRUE[-5] - 1) <= half
    assert 0.92 <= inside / 300 <= 1.0
