"""Properties that define fair shares, and one published example."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildlog.physics.numerics.shapley import join_smallest, shapley_values

numbers = st.floats(-100, 100)


def _game(table):
    return lambda members: table[sum(1 << i for i in members)]


def test_glove_game():
    """Two left gloves, one right; a pair is worth 1: (1/6, 1/6, 4/6), the textbook example of
    the theory of cooperative games (from memory)."""
    shares = shapley_values(3, lambda s: float(2 in s and (0 in s or 1 in s)))
    assert shares.values == pytest.approx((1 / 6, 1 / 6, 4 / 6))


@given(st.lists(numbers, min_size=8, max_size=8))
def test_shares_sum_to_the_total(table):
    shares = shapley_values(3, _game(table))
    assert sum(shares.values) == pytest.approx(table[-1] - table[0], abs=1e-9)


@given(st.lists(numbers, min_size=4, max_size=4))
def test_a_group_that_changes_nothing_gets_nothing(table):
    shares = shapley_values(3, lambda s: table[sum(1 << i for i in s - {2})])
    assert shares.values[2] == 0.0
    assert shares.alone[2] == 0.0


@given(st.lists(numbers, min_size=6, max_size=6))
def test_interchangeable_groups_get_equal_shares(table):
    shares = shapley_values(3, lambda s: table[len(s & {0, 1}) + 3 * (2 in s)])
    assert shares.values[0] == pytest.approx(shares.values[1], abs=1e-9)


@given(st.lists(numbers, min_size=1, max_size=6))
def test_a_linear_sum_gives_each_its_own_term(terms):
    shares = shapley_values(len(terms), lambda s: sum(terms[i] for i in s))
    np.testing.assert_allclose(shares.values, terms, atol=1e-9)
    assert shares.interaction == pytest.approx(0, abs=1e-9)


def test_a_pure_product_is_all_interaction():
    shares = shapley_values(2, lambda s: float(len(s) == 2))
    assert shares.values == (0.5, 0.5)
    assert shares.interaction == 1.0


@given(st.lists(numbers, min_size=8, max_size=8), st.permutations(range(3)))
def test_order_of_declaration_changes_nothing(table, order):
    straight = shapley_values(3, _game(table)).values
    shuffled = shapley_values(3, lambda s: _game(table)({order[i] for i in s})).values
    assert shuffled == pytest.approx([straight[i] for i in order], abs=1e-9)


def test_too_many_groups_are_refused_until_joined():
    with pytest.raises(ValueError, match="join some first"):
        shapley_values(9, lambda s: 0.0)


def test_the_smallest_join_within_their_assembly():
    sizes = [9, 1, 8, 2, 3]
    parts = ["a", "b", "c", "b", "a"]
    assert join_smallest(sizes, parts, limit=4) == [(0,), (1, 3), (2,), (4,)]
    assert join_smallest(sizes, parts, limit=3) == [(0,), (1, 3, 4), (2,)]
    assert join_smallest(sizes, parts, limit=5) == [(0,), (1,), (2,), (3,), (4,)]
