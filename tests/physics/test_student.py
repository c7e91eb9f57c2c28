"""Student's t against scipy's, a printed table, and its two cases with a closed form."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from buildlog.physics.numerics.student import quantile, upper_tail

freedoms = st.floats(0.5, 1e4)


@pytest.mark.parametrize(
    ("dof", "printed"),
    [(1, 12.706), (2, 4.303), (3, 3.182), (4, 2.776), (5, 2.571), (10, 2.228), (30, 2.042),
     (60, 2.000), (120, 1.980), (math.inf, 1.960)],
)  # fmt: skip
def test_the_printed_table(dof: float, printed: float) -> None:
    """The 0.975 column of the table that every handbook prints (as scipy 1.17.1 gives it)."""
    assert round(quantile(0.975, dof), 3) == printed


@given(dof=freedoms, probability=st.floats(0.501, 0.999999))
def test_quantiles_are_those_of_scipy(dof: float, probability: float) -> None:
    assert quantile(probability, dof) == pytest.approx(stats.t.ppf(probability, dof), rel=1e-8)


@given(dof=freedoms, t=st.floats(0, 200))
def test_tails_are_those_of_scipy(dof: float, t: float) -> None:
    assert upper_tail(t, dof) == pytest.approx(stats.t.sf(t, dof), rel=1e-8, abs=1e-300)


@given(t=st.floats(0, 1e6))
def test_one_and_two_degrees_have_a_closed_form(t: float) -> None:
    assert upper_tail(t, 1) == pytest.approx(0.5 - math.atan(t) / math.pi, rel=1e-6, abs=1e-15)
    root = math.sqrt(2 + t * t)
    assert upper_tail(t, 2) == pytest.approx(1 / (root * (root + t)), rel=1e-9)


@given(dof=freedoms, probability=st.floats(0.001, 0.999))
def test_it_is_symmetric_and_its_own_inverse(dof: float, probability: float) -> None:
    t = quantile(probability, dof)
    assert quantile(1 - probability, dof) == pytest.approx(-t, rel=1e-9, abs=1e-9)
    assert upper_tail(abs(t), dof) == pytest.approx(min(probability, 1 - probability), rel=1e-9)


@given(dof=st.floats(1e6, 1e9), probability=st.floats(0.51, 0.999))
def test_many_degrees_come_to_the_normal_distribution(dof: float, probability: float) -> None:
    assert quantile(probability, dof) == pytest.approx(quantile(probability, math.inf), rel=1e-4)


@pytest.mark.parametrize("wrong", [(0.0, 3), (1.0, 3), (0.5, 0), (0.5, -1), (math.nan, 3)])
def test_nonsense_is_refused(wrong: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="probability"):
        quantile(*wrong)


def test_a_tail_needs_a_distance() -> None:
    with pytest.raises(ValueError, match="zero or more"):
        upper_tail(-1, 3)
