"""Scatter and differences against scipy, the reference pages' worked examples and coverage."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from buildlog.physics.numerics.repeatability import (
    DIFFERENCE_DEFAULTS,
    DifferenceSource,
    Scatter,
    combine_differences,
    combine_scatter,
    copied_pulls,
    half_width_95,
    mean_half_width,
    outlying_pulls,
    pooled_scatter,
    repeatability_limit,
    simultaneous_half_width,
    trend_in_a_row,
    typical_scatter,
)

GRID = np.linspace(2000, 6500, 91)
CURVE = 150e3 * np.sin(GRID / 6500 * 1.7)


def pulls(
    n: int, rng: np.random.Generator, level: float = 0.005, shape: float = 0.004
) -> np.ndarray:
    """n pulls whose error is partly a common level and partly smooth along the curve."""
    knots = rng.normal(0, shape, (n, 10))
    wave = np.array([np.interp(GRID, np.linspace(2000, 6500, 10), k) for k in knots])
    return CURVE * (1 + rng.normal(0, level, (n, 1)) + wave)


def relative(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Difference of the two mean curves, relative to the first."""
    return np.asarray(b.mean(axis=0) / a.mean(axis=0) - 1)


def test_iso_5725_limits_of_the_worked_example() -> None:
    # ISO 5725-6 4.2.1 [from memory]: critical difference 2.8 s_r sqrt(1/(2 n1) + 1/(2 n2)) of
    # two means, and beside it sqrt((2.8 s_R)^2 - (2.8 s_r)^2 (1 - 1/(2 n1) - 1/(2 n2))) of two
    # laboratories; 2.8 is 1.96 sqrt(2) rounded up, 1 % wide. Figures computed from the formulas.
    known = Scatter(1.5, math.inf, 0, 0)
    for n1, n2, critical in ((1, 1, 4.2), (3, 3, 2.425), (3, 5, 2.169)):
        assert half_width_95(known, n1, n2) == pytest.approx(critical, rel=0.011)
    between = math.sqrt(2 * (4.0**2 - 1.5**2))  # s_R^2 = s_L^2 + s_r^2, both laboratories
    assert half_width_95(known, 3, 3, between) == pytest.approx(10.66, rel=0.011)
    five = np.array([223.1, 225.4, 224.0, 222.6, 224.8])
    s = float(five.std(ddof=1))
    assert s == pytest.approx(1.158, abs=1e-3)
    assert mean_half_width(Scatter(s, 4, 5, 1), 5) == pytest.approx(1.438, abs=1e-3)


def test_degrees_of_freedom_count_pulls_not_places() -> None:
    rng = np.random.default_rng(1)
    scatter = pooled_scatter([pulls(3, rng), pulls(4, rng), pulls(1, rng)])
    assert scatter is not None
    assert (scatter.dof, scatter.pulls, scatter.groups) == (5, 8, 3)
    assert pooled_scatter([pulls(1, rng), pulls(1, rng)]) is None


def test_pooled_scatter_is_unbiased_in_its_square() -> None:
    rng = np.random.default_rng(2)
    squares = []
    for _ in range(400):
        found = pooled_scatter([pulls(3, rng), pulls(3, rng)])
        assert found is not None
        squares.append(found.s**2)
    # interpolated knots keep 2/3 of their variance on average
    assert np.mean(squares) == pytest.approx(0.005**2 + 0.004**2 * 2 / 3, rel=0.06)


def test_pulls_of_unequal_length_use_the_range_they_share() -> None:
    curves = np.array([[1.0, 100.0, 200.0, np.nan], [np.nan, 102.0, 204.0, 300.0]])
    scatter = pooled_scatter([curves])
    assert scatter is not None
    assert scatter.s == pytest.approx(math.sqrt(2) / 101)


def test_half_width_covers_at_one_place_as_often_as_it_says() -> None:
    rng = np.random.default_rng(3)
    inside = 0
    for _ in range(1500):
        a, b = pulls(3, rng), pulls(3, rng)
        scatter = pooled_scatter([a, b])
        assert scatter is not None
        inside += abs(relative(a, b)[40]) <= half_width_95(scatter, 3, 3)
    assert 0.935 <= inside / 1500 <= 0.98


def test_simultaneous_band_covers_the_largest_difference_and_pointwise_does_not() -> None:
    rng = np.random.default_rng(4)
    simultaneous = pointwise = 0
    for _ in range(400):
        a, b = pulls(3, rng, 0.003, 0.006), pulls(3, rng, 0.003, 0.006)
        scatter = pooled_scatter([a, b])
        assert scatter is not None
        largest = float(np.abs(relative(a, b)).max())
        pointwise += largest <= half_width_95(scatter, 3, 3)
        simultaneous += largest <= simultaneous_half_width([a, b], 3, 3, draws=1000)
    assert simultaneous / 400 >= 0.93
    assert pointwise / 400 < 0.88


def test_simultaneous_band_is_the_same_twice_and_never_below_pointwise() -> None:
    rng = np.random.default_rng(5)
    a, b = pulls(3, rng, 0.01, 0.0), pulls(3, rng, 0.01, 0.0)
    scatter = pooled_scatter([a, b])
    assert scatter is not None
    one = simultaneous_half_width([a, b], 3, 3, 0.015)
    assert one == simultaneous_half_width([a, b], 3, 3, 0.015)
    assert one >= half_width_95(scatter, 3, 3, 0.015)
    with pytest.raises(ValueError, match="repeated pull"):
        simultaneous_half_width([a[:1], b[:1]], 1, 1)


@pytest.mark.parametrize("pulls_each", [2, 3, 5])
@pytest.mark.parametrize("seed", range(8))
def test_the_band_of_the_largest_is_never_below_that_of_one_place(
    seed: int, pulls_each: int
) -> None:
    """Where pulls differ in level alone the two are one, and chance draws half of them below."""
    rng = np.random.default_rng(seed)
    groups = [pulls(pulls_each, rng, 0.01, 0.0) for _ in range(2)]
    scatter = pooled_scatter(groups)
    assert scatter is not None
    for draws, near in ((20, np.inf), (4000, 1.1)):
        own = simultaneous_half_width(groups, pulls_each, pulls_each, 0.015, draws=draws)
        floor = half_width_95(scatter, pulls_each, pulls_each, 0.015)
        assert floor * (1 - 1e-9) <= own <= near * floor


def test_what_must_be_said_about_small_and_large_gains() -> None:
    # Facts of the trade (common practice, no source): two pulls 1 % apart are one result;
    # three and three 7 % apart on one day are a gain; 1.5 % on different days is not shown.
    assert half_width_95(typical_scatter(), 1, 1) > 0.01
    assert half_width_95(Scatter(0.01, 4, 6, 2), 3, 3) < 0.07
    u, _ = combine_differences(["another day"])
    assert half_width_95(Scatter(0.003, 4, 6, 2), 3, 3, u) > 0.015
    two = np.array([[100.0, 200.0], [101.0, 202.0]])
    assert pooled_scatter([two]).s == pytest.approx(0.01 / 1.005 / math.sqrt(2))  # type: ignore[union-attr]


def test_differences_add_in_quadrature_and_can_be_replaced() -> None:
    assert [d.u for d in DIFFERENCE_DEFAULTS.values()] == [0.0, 0.015, 0.05, 0.01, 0.01]
    u, parts = combine_differences(["same visit"])
    assert u == 0
    u, parts = combine_differences(
        ["another day", "another dyno", "another gear", "tire pressure or strapping", "another day"]
    )
    assert len(parts) == 4
    assert u == pytest.approx(math.sqrt(0.015**2 + 0.05**2 + 0.01**2 + 0.01**2))
    assert combine_differences(
        ["another dyno"], {"another dyno": DifferenceSource("another dyno", "two dynos", 0.02)}
    )[0] == pytest.approx(0.02)
    with pytest.raises(ValueError, match="no default"):
        combine_differences(["moon phase"])


def test_an_outlying_pull_is_named_and_ordinary_ones_are_not() -> None:
    rng = np.random.default_rng(6)
    alarms = sum(
        bool(outlying_pulls([pulls(3, rng, 0.004, 0.002), pulls(4, rng, 0.004, 0.002)]))
        for _ in range(300)
    )
    assert alarms / 300 <= 0.08
    found = 0
    for _ in range(50):
        a, b = pulls(4, rng, 0.003, 0.002), pulls(4, rng, 0.003, 0.002)
        b[2] *= 0.95
        names = [(o.group, o.pull) for o in outlying_pulls([a, b])]
        found += names == [(1, 2)]
    assert found >= 45


def test_a_falling_trend_is_seen_and_an_ordinary_row_is_not() -> None:
    rng = np.random.default_rng(7)
    drop = 1 - 0.012 * np.arange(5)[:, None]
    trend = trend_in_a_row(pulls(5, rng, 0.002, 0.002) * drop)
    assert trend is not None
    assert trend.falling
    assert trend.slope == pytest.approx(-0.012, abs=0.003)
    assert trend.change == pytest.approx(4 * trend.slope)
    alarms = 0
    for _ in range(600):
        row = trend_in_a_row(pulls(4, rng, 0.004, 0.002))
        assert row is not None
        alarms += row.falling
    assert alarms / 600 == pytest.approx(0.05, abs=0.025)
    assert trend_in_a_row(pulls(2, rng)) is None


def test_one_recording_read_twice_is_named() -> None:
    gap = [1.0, np.nan, 3.0]
    assert copied_pulls([gap, [1.0, 2.0, 3.0], gap, gap]) == ((0, 2), (0, 3), (2, 3))
    assert copied_pulls([gap, [1.0, np.nan, 3.1]]) == ()
    assert copied_pulls(gap) == ()


def test_scatters_of_several_visits_are_weighted_by_what_they_rest_on() -> None:
    """The pooled variance of any statistics text; a typical value is no estimate and stays out."""
    held = [Scatter(0.02, 3, 4, 1), Scatter(0.01, 6, 9, 3)]
    beside = [typical_scatter(), Scatter(0.5, 0, 1, 1), Scatter(0.4, 5, 6, 1, "typical")]
    found = combine_scatter([*beside, *held])
    assert found is not None
    assert found.s == pytest.approx(math.sqrt((3 * 0.02**2 + 6 * 0.01**2) / 9))
    assert (found.dof, found.pulls, found.groups, found.basis) == (9, 13, 4, "measured")
    assert combine_scatter(beside) is None
    assert typical_scatter() == Scatter(0.01, math.inf, 1, 1, "typical")


def test_an_outlier_by_its_formula() -> None:
    """Three level pulls of one group and a pair for the scatter; t from scipy."""
    group, pair = [[100.0], [101.0], [140.0]], [[100.0], [102.0]]
    (found,) = outlying_pulls([pair, group])
    rest = pooled_scatter([pair, group[:2]])
    assert rest is not None
    assert (found.group, found.pull) == (1, 2)
    assert found.distance == pytest.approx(140 / 100.5 - 1)
    t = stats.t.ppf(1 - 0.025 / 3, 2)
    assert found.limit == pytest.approx(t * rest.s * math.sqrt(1.5))
    assert outlying_pulls([[[1.0], [1.0], [1.0]]]) == ()
    assert outlying_pulls([[[1.0], [1.0], [2.0]]]) == ()  # the others say nothing of scatter
    assert outlying_pulls([[[1.0], [2.0]]]) == ()


@pytest.mark.parametrize("levels", [[100.0, 99.0, 97.5], [100.0, 99.0, 99.5, 97.0, 96.0]])
def test_a_trend_is_the_line_of_least_squares(levels: list[float]) -> None:
    """scipy.stats.linregress: slope and its standard error."""
    curves = np.outer(levels, [1.0, 2.0])
    found = trend_in_a_row(np.hstack([curves, np.full((len(levels), 1), np.nan)]))
    line = stats.linregress(np.arange(len(levels)), np.array(levels) / np.mean(levels) - 1)
    assert found is not None
    assert found.slope == pytest.approx(line.slope)
    assert found.half_width == pytest.approx(stats.t.ppf(0.95, len(levels) - 2) * line.stderr)
    assert found.change == pytest.approx(line.slope * (len(levels) - 1))
    assert found.falling == (line.slope + found.half_width < 0)


def test_limit_from_few_pulls_is_wider_than_2_8_s() -> None:
    assert repeatability_limit(Scatter(1.0, 2, 3, 1)) == pytest.approx(
        stats.t.ppf(0.975, 2) * math.sqrt(2)
    )
    assert repeatability_limit(Scatter(1.0, math.inf, 0, 0)) == pytest.approx(2.8, abs=0.03)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: half_width_95(Scatter(0.01, 2, 3, 1), 0, 3), "one pull"),
        (lambda: pooled_scatter([[[1.0, np.nan], [np.nan, 1.0]]]), "no range in common"),
        (lambda: pooled_scatter([[[-1.0], [-2.0]]]), "above zero"),
    ],
)
def test_nonsense_is_a_sentence(call, words) -> None:
    with pytest.raises(ValueError, match=words):
        call()
