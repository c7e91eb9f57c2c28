"""Fuel pump: flow against pressure from one stated point or two."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildlog.physics.parts import pump
from buildlog.physics.parts.pump import PumpPoint

flows = st.floats(1e-6, 1e-3)
pressures = st.floats(0.0, 1e6)
# Nobody states two points a few pascals apart, where rounding decides.
apart = st.tuples(pressures, pressures).filter(lambda p: abs(p[0] - p[1]) > 1.0)


@given(flows, flows, apart)
def test_the_line_passes_through_both_stated_points(
    one: float, other: float, at: tuple[float, float]
) -> None:
    low, high = PumpPoint(max(one, other), min(at)), PumpPoint(min(one, other), max(at))
    for point in (low, high):
        got = pump.flow_from_two(high, low, point.pressure)
        assert got == pytest.approx(point.flow, rel=1e-6, abs=1e-15)


@given(flows, st.floats(0, 5e-6), st.floats(0, 5e5), st.floats(0, 5e5))
def test_one_point_and_a_slope_is_the_line_through_two(
    flow: float, slope: float, base: float, rise: float
) -> None:
    point = PumpPoint(flow, base)
    expected = max(0.0, flow * (1 - slope * rise))
    assert pump.flow_from_slope(point, slope, base + rise) == pytest.approx(expected, abs=1e-12)
    if rise > 1.0 and slope * rise < 0.9:
        second = PumpPoint(expected, base + rise)
        middle = base + rise / 2
        by_two = pump.flow_from_two(point, second, middle)
        assert pump.flow_from_slope(point, slope, middle) == pytest.approx(by_two, rel=1e-9)


@given(flows, st.floats(0, 5e-6), pressures, pressures, pressures)
def test_flow_never_rises_with_pressure_nor_falls_below_zero(
    flow: float, slope: float, base: float, one: float, other: float
) -> None:
    point = PumpPoint(flow, base)
    low, high = sorted((one, other))
    falling = pump.flow_from_slope(point, slope, low), pump.flow_from_slope(point, slope, high)
    assert falling[0] >= falling[1] >= 0


def test_a_pump_is_not_credited_below_its_stated_pressure() -> None:
    point = PumpPoint(70e-6, 300e3)
    assert pump.flow_from_slope(point, 1e-6, 100e3) == 70e-6


def test_boost_reaches_the_rail_only_through_the_reference() -> None:
    assert pump.rail_gauge(300e3, 70e3, referenced=True) == 370e3
    assert pump.rail_gauge(300e3, 70e3, referenced=False) == 300e3


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: PumpPoint(0.0, 300e3), "pump flow must be above zero"),
        (lambda: PumpPoint(1e-4, -1.0), "pump pressure must not be negative"),
        (lambda: pump.rail_gauge(0.0, 0.0, True), "system pressure must be above zero"),
        (lambda: pump.flow_from_slope(PumpPoint(1e-4, 0.0), -1e-6, 1.0), "must not be negative"),
        (
            lambda: pump.flow_from_two(PumpPoint(1e-4, 3e5), PumpPoint(9e-5, 3e5), 4e5),
            "two pressures",
        ),
        (
            lambda: pump.flow_from_two(PumpPoint(1e-4, 3e5), PumpPoint(2e-4, 5e5), 4e5),
            "cannot rise",
        ),
    ],
)
def test_nonsense_is_refused(call, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()
