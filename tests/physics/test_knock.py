"""Knock: octane slopes as differences, against a published table."""

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildlog.physics.gases import knock

TABLES = Path(__file__).parents[2] / "shared" / "tables"
TABLE = tomllib.loads((TABLES / "margin-examples.toml").read_text(encoding="utf-8"))


def test_compression_slope_of_the_published_table() -> None:
    """4.0 octane per point from 9 to 12 and 5.0 from 6 to 9: the prior must lie there."""
    table = dict(TABLE["octane_by_compression"]["rows"])
    upper, lower = (table[12] - table[9]) / 3, (table[9] - table[6]) / 3
    assert (upper, lower) == (4.0, 5.0)
    change = knock.octane_demand_change(1.0, 0.0, 0.0, 0.0, (upper + lower) / 2, 0, 0, 0)
    assert upper <= change <= lower


@given(*[st.floats(-10, 10)] * 4)
def test_going_back_asks_for_what_going_there_added(
    points: float, kilopascal: float, kelvin: float, degrees: float
) -> None:
    slopes = (4.5, 0.35, 0.18, -1.0)
    there = knock.octane_demand_change(points, kilopascal, kelvin, degrees, *slopes)
    back = knock.octane_demand_change(-points, -kilopascal, -kelvin, -degrees, *slopes)
    assert there == pytest.approx(-back, abs=1e-9)


@pytest.mark.parametrize(
    ("differences", "change"),
    [((2, 0, 0, 0), 9.0), ((0, 2, 0, 0), 0.7), ((0, 0, 2, 0), 0.36), ((0, 0, 0, 2), -2.0)],
)
def test_each_difference_goes_by_its_own_slope(
    differences: tuple[float, float, float, float], change: float
) -> None:
    got = knock.octane_demand_change(*differences, 4.5, 0.35, 0.18, -1.0)
    assert got == pytest.approx(change)


def test_later_spark_asks_for_less_and_boost_for_more() -> None:
    slopes = (4.5, 3.5e-4, 0.18, -1.0)
    assert knock.octane_demand_change(0, 0, 0, 5.0, *slopes) < 0
    assert knock.octane_demand_change(0, 20e3, 15.0, 0, *slopes) > 0
