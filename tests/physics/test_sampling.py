"""Checks of the draws against scipy.stats, and of the sample's fairness."""

import numpy as np
import pytest
from scipy import stats

from buildlog.physics.numerics import sampling

U = np.linspace(0.001, 0.999, 999)


@pytest.mark.parametrize(
    ("ours", "theirs"),
    [
        (sampling.Triangular(2, 3, 7), stats.triang(0.2, loc=2, scale=5)),
        (sampling.Triangular(2, 2, 7), stats.triang(0.0, loc=2, scale=5)),
        (sampling.Triangular(2, 7, 7), stats.triang(1.0, loc=2, scale=5)),
        (sampling.Uniform(-1, 3), stats.uniform(-1, 4)),
        (sampling.Normal(5, 2), stats.norm(5, 2)),
        (sampling.LogNormal(5, 0.3), stats.lognorm(0.3, scale=5)),
    ],
)
def test_inverse_distributions_against_scipy(ours, theirs):
    np.testing.assert_allclose(ours.ppf(U), theirs.ppf(U), rtol=1e-12)


@pytest.mark.parametrize(
    "make",
    [
        lambda: sampling.Triangular(1, 3, 2),
        lambda: sampling.Uniform(2, 2),
        lambda: sampling.Normal(1, 0),
        lambda: sampling.LogNormal(-1, 0.1),
    ],
)
def test_impossible_distributions_are_refused(make):
    with pytest.raises(ValueError, match=r"distribution|deviation|sigma"):
        make()


def test_each_interval_holds_one_draw_over_all_and_over_each_slice():
    u = sampling.latin_hypercube(["a", "b"], 64, seed=7)
    for row in u.values():
        assert sorted(np.floor(row * 64)) == list(range(64))
        for part in row.reshape(4, 16):
            assert sorted(np.floor(part * 16)) == list(range(16))


def test_rows_hang_on_seed_and_name_only():
    first = sampling.latin_hypercube(["a", "b"], 256, seed=1)
    again = sampling.latin_hypercube(["c", "b"], 256, seed=1)
    other = sampling.latin_hypercube(["b"], 256, seed=2)
    np.testing.assert_array_equal(first["b"], again["b"])
    assert (first["b"] != other["b"]).any()
    assert abs(np.corrcoef(first["a"], first["b"])[0, 1]) < 0.2


def test_odd_counts_are_refused():
    with pytest.raises(ValueError, match="multiple of 4"):
        sampling.latin_hypercube(["a"], 10, seed=1)


def test_equal_weights_give_numpys_hazen_quantiles():
    values = np.random.default_rng(3).normal(size=(501, 3))
    ours = sampling.weighted_quantiles(values, np.ones(501), (0.1, 0.5, 0.9))
    theirs = np.quantile(values, (0.1, 0.5, 0.9), axis=0, method="hazen")
    np.testing.assert_allclose(ours, theirs, rtol=1e-12)


def test_a_weight_counts_like_repeated_draws():
    values = np.array([1.0, 2.0, 3.0, 4.0])
    ours = sampling.weighted_quantiles(values, np.array([1.0, 1.0, 6.0, 1.0]), [0.5])
    assert ours[0] == pytest.approx(3.0, abs=0.3)


def test_equal_values_have_exactly_their_own_quantiles():
    values = np.full(100, 1.0)
    assert sampling.weighted_quantiles(values, np.ones(100), (0.1, 0.9)) == [1.0, 1.0]
