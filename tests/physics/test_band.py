"""Bands through formulas, checked against a Monte-Carlo run and closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import lognorm, norm

from buildlog.physics.numerics.band import Band, propagate

Z90 = norm.ppf(0.9)


def same(got: Band, want: Band) -> bool:
    """Whether two bands are equal up to rounding."""
    expected = pytest.approx((want.p10, want.p50, want.p90), rel=1e-9, abs=1e-9)
    return bool((got.p10, got.p50, got.p90) == expected)


def test_one_monotone_input_is_exact_for_any_distribution() -> None:
    assert same(propagate(math.sqrt, Band(1.0, 4.0, 25.0)), Band(1.0, 2.0, 5.0))
    assert same(propagate(lambda x: 1 / x, Band(1.0, 2.0, 4.0)), Band(0.25, 0.5, 1.0))


def test_product_of_lognormals_is_exact() -> None:
    s1, s2 = 0.2, 0.1
    a, b = (
        Band(*(lognorm(s, scale=m).ppf(q) for q in (0.1, 0.5, 0.9))) for s, m in ((s1, 3), (s2, 5))
    )
    product = lognorm(math.hypot(s1, s2), scale=15)
    want = Band(*product.ppf([0.1, 0.5, 0.9]))
    assert same(propagate(lambda x, y: x * y, a, b), want)


def test_small_positive_figures_keep_to_the_logarithm() -> None:
    a = Band(0.01, 0.1, 1.0)
    got = propagate(lambda x, y: x * y, a, a)
    reach = 10**2**0.5
    assert same(got, Band(0.01 / reach, 0.01, 0.01 * reach))


@pytest.mark.parametrize("shift", [0.0, -1.0, -7.0])
def test_figures_that_touch_zero_or_lie_below_are_taken_as_they_are(shift: float) -> None:
    got = propagate(lambda x, y: x + y, Band(0.0, 1.0, 2.0), shift)
    assert same(got, Band(shift, 1.0 + shift, 2.0 + shift))


def test_difference_that_changes_sign_adds_in_quadrature() -> None:
    one = Band(1 - Z90, 1.0, 1 + Z90)
    got = propagate(lambda x, y: x - y, one, one)
    wide = norm(0, math.sqrt(2)).ppf([0.1, 0.5, 0.9])
    assert same(got, Band(*wide))


def test_within_three_percent_of_monte_carlo_for_four_inputs() -> None:
    """The limit named in the docstring of `propagate`."""
    centres, spreads = (250.0, 0.35, 7200.0, 0.2125), (0.05, 0.20, 0.10, 0.02)
    bands = [Band.around(c, s) for c, s in zip(centres, spreads, strict=True)]
    rng = np.random.default_rng(6)
    draws = [
        c * (1 + s / Z90 * rng.standard_normal(400_000))
        for c, s in zip(centres, spreads, strict=True)
    ]

    def reserve(torque, mu, force, radius):  # type: ignore[no-untyped-def]
        return 2 * mu * force * radius / torque

    got = propagate(reserve, *bands)
    for value, want in zip(
        (got.p10, got.p50, got.p90), np.quantile(reserve(*draws), [0.1, 0.5, 0.9]), strict=True
    ):
        assert value == pytest.approx(want, rel=0.03)


def test_flags_and_numbers_pass_as_they_are() -> None:
    got = propagate(lambda flag, x, y: x + y if flag else x, True, 1.0, Band(1.0, 2.0, 3.0))
    assert same(got, Band(2.0, 3.0, 4.0))


@pytest.mark.parametrize("values", [(2.0, 1.0, 3.0), (1.0, 3.0, 2.0), (float("nan"), 1.0, 2.0)])
def test_impossible_bands_are_refused(values: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError, match="band"):
        Band(*values)


sizes = st.floats(0.1, 100.0)
factors = st.floats(-10.0, 10.0)


@given(st.tuples(sizes, sizes, sizes).map(sorted), factors, factors)
def test_arithmetic_keeps_order_and_undoes_itself(
    values: list[float], factor: float, shift: float
) -> None:
    band = Band(*values)
    assert (-band).p10 == -band.p90
    assert same((band + shift) - shift, band)
    if abs(factor) > 1e-3:
        assert same((band * factor) / factor, band)
    assert (band * factor).p10 <= (band * factor).p90


@given(st.lists(st.tuples(sizes, sizes, sizes).map(sorted), min_size=1, max_size=5))
def test_a_positive_formula_never_yields_a_negative_end(bands: list[list[float]]) -> None:
    got = propagate(lambda *x: math.prod(x), *(Band(*b) for b in bands))
    assert 0 < got.p10 <= got.p50 <= got.p90
