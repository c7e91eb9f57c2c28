"""Digits follow the uncertainty, shares are rounded away from a limit, units are said."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildlog.report.numbers import (
    Display,
    axis_value,
    digits_for,
    plain,
    share,
    signed,
)

US, METRIC = Display("us"), Display("metric")
HP = 745.6998715822702  # W; 550 ft*lbf/s


@given(st.floats(1e-6, 1e9))
def test_two_leading_digits_of_the_uncertainty_are_shown(half: float) -> None:
    """The last digit shown is worth between 1 and 10 per cent of the half-width, or is a unit."""
    decimals = digits_for(half)
    step = 10.0**-decimals
    if decimals:
        assert 0.0999 * half <= 10 * step <= 1.0001 * half
    else:
        assert half >= 10 * (1 - 1e-9)
    # "Guide to the Expression of Uncertainty in Measurement", 7.2.6: two digits at most usually
    # suffice (JCGM 100:2008) [from memory]
    assert len(plain(half, decimals).replace(",", "").replace(".", "").lstrip("0")) >= 2


@given(st.floats(-1e6, 1e6), st.floats(1.0, 1e5))
def test_value_and_uncertainty_have_the_same_decimals(si: float, half: float) -> None:
    text = US.change(si, half, "power")
    match = re.fullmatch(r"([+-]?[\d,]+(?:\.(\d+))?) ± ([\d,]+(?:\.(\d+))?) hp", text)
    assert match
    assert len(match[2] or "") == len(match[4] or "")
    assert float(match[1].replace(",", "")) == pytest.approx(si / HP, abs=0.51 * half / HP)


@pytest.mark.parametrize(
    ("si", "half", "text"),
    [
        (69.3 * HP, 6.93 * HP, "+69.3 ± 6.9 hp"),
        (-3.04 * HP, 0.42 * HP, "-3.04 ± 0.42 hp"),
        (1234.6 * HP, 125 * HP, "+1,235 ± 125 hp"),
        (0.0, 2.0 * HP, "0.0 ± 2.0 hp"),
        (-0.001 * HP, 2.0 * HP, "0.0 ± 2.0 hp"),
        (5 * HP, None, "+5.0 hp"),
        (5 * HP, math.nan, "+5.0 hp"),
        (5 * HP, math.inf, "+5.0 hp"),
    ],
)
def test_a_difference_as_it_is_printed(si: float, half: float | None, text: str) -> None:
    assert US.change(si, half, "power") == text


@given(st.floats(-5, 0.9999999, allow_nan=False))
def test_what_is_left_is_never_rounded_up(left: float) -> None:
    shown = int(share(left).removesuffix(" %"))
    assert shown <= 100 * left + 1e-6
    assert shown > 100 * left - 1.0000001
    assert (shown < 100) or left > 0.99999999
    assert (shown >= 0) is (left >= -1e-11)


def test_shares_near_a_limit() -> None:
    assert share(0.0049) == "0 %"
    assert share(-0.0001) == "-1 %"
    assert share(0.07) == "7 %"
    assert share(0.29) == "29 %"  # 100 * 0.29 is 28.999999999999996
    assert share(0.9999) == "99 %"


@pytest.mark.parametrize(
    ("value", "decimals", "text"),
    [(12345.678, 1, "12,345.7"), (-0.04, 1, "0.0"), (0, 0, "0"), (-1.25, 2, "-1.25")],
)
def test_plain(value: float, decimals: int, text: str) -> None:
    assert plain(value, decimals) == text


def test_signed() -> None:
    assert [signed(v, 1) for v in (1.0, -1.0, 0.04, -0.04)] == ["+1.0", "-1.0", "0.0", "0.0"]


def test_values_carry_their_unit() -> None:
    assert US.value(100 * HP, "power") == "100.0 hp"
    assert METRIC.value(74570, "power") == "74.6 kW"
    assert US.value(293.15, "temperature") == "68.0 degF"
    assert METRIC.value(293.15, "temperature") == "20.0 degC"
    assert US.distance(1609.344 * 88412) == "88,412 mi"
    assert METRIC.distance(142_285_000) == "142,285 km"
    assert US.distance(None) == "unknown"


def test_axis_values() -> None:
    assert axis_value(5604.9, "engine_speed") == "5,600 rpm"
    assert axis_value(142.6, "road_speed") == "143 km/h"
