"""Knock: the published delay, octane slopes as differences, and the integral two ways."""

import tomllib
from math import exp, log
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from buildlog.physics import knock
from buildlog.physics.constants import ATM

TABLES = Path(__file__).parents[2] / "shared" / "tables"
TABLE = tomllib.loads((TABLES / "margin-examples.toml").read_text(encoding="utf-8"))

octanes = st.floats(70, 110)
end_pressures = st.floats(20 * ATM, 90 * ATM)
end_temperatures = st.floats(700, 1000)


@pytest.mark.parametrize(("octane", "atm", "kelvin", "ms"), TABLE["knock_delay"]["rows"])
def test_published_delay(octane: float, atm: float, kelvin: float, ms: float) -> None:
    assert knock.ignition_delay(octane, atm * ATM, kelvin) * 1e3 == pytest.approx(ms, abs=5e-5)


def test_compression_slope_of_the_published_table() -> None:
    """4.0 octane per point from 9 to 12 and 5.0 from 6 to 9: the prior must lie there."""
    table = dict(TABLE["octane_by_compression"]["rows"])
    upper, lower = (table[12] - table[9]) / 3, (table[9] - table[6]) / 3
    assert (upper, lower) == (4.0, 5.0)
    change = knock.octane_demand_change(1.0, 0.0, 0.0, 0.0, (upper + lower) / 2, 0, 0, 0)
    assert upper <= change <= lower


def test_slopes_of_the_delay_agree_with_the_analytic_derivative() -> None:
    """d(ON)/ON = (1.7/3.402) dp/p and (3800/3.402) dT/T^2 at an unchanged delay."""
    octane, p, t = 95.0, 40 * ATM, 850.0
    per_pressure = (knock.equivalent_octane(octane, p, t, p * 1.0001, t) - octane) / 1e-4
    assert per_pressure == pytest.approx(octane * 1.7 / 3.402, rel=1e-3)
    per_kelvin = (knock.equivalent_octane(octane, p, t, p, t + 0.01) - octane) / 0.01
    assert per_kelvin == pytest.approx(octane * 3800 / 3.402 / t**2, rel=1e-3)


def test_model_slopes_have_the_size_of_the_delay_s_own() -> None:
    """+2.4 octane per psi (computed) against the delay alone, with the end gas as many
    times denser and hotter than the charge as an intake at 100 kPa and 300 K makes it."""
    octane, p, t = 95.0, 40 * ATM, 850.0
    psi = 6894.757
    alone = knock.equivalent_octane(octane, p, t, p * (1 + psi / 100e3), t) - octane
    assert alone == pytest.approx(2.4, rel=0.5)
    warmer = knock.equivalent_octane(octane, p, t, p, t * (1 + 10 / 300)) - octane
    assert 1.8 / 3 < warmer < 1.8 * 3


@given(octanes, end_pressures, end_temperatures, end_pressures, end_temperatures)
def test_equivalent_octane_keeps_the_delay(
    octane: float, p: float, t: float, p2: float, t2: float
) -> None:
    other = knock.equivalent_octane(octane, p, t, p2, t2)
    assert knock.ignition_delay(other, p2, t2) == pytest.approx(
        knock.ignition_delay(octane, p, t), rel=1e-9
    )
    assert knock.equivalent_octane(other, p2, t2, p, t) == pytest.approx(octane, rel=1e-9)


@given(octanes, end_pressures, end_temperatures)
def test_a_constant_state_ignites_after_its_delay(octane: float, p: float, t: float) -> None:
    tau = knock.ignition_delay(octane, p, t)
    times = [0.0, 0.2 * tau, 0.7 * tau, tau]
    assert knock.knock_integral(times, [p] * 4, [t] * 4, octane) == pytest.approx(1.0)


def test_integral_of_an_isentropic_rise_agrees_with_quadrature() -> None:
    def pressure(x: float) -> float:
        return 20 * ATM * exp(x / 1e-3)

    def temperature(x: float) -> float:
        return 700 * exp(log(pressure(x) / (20 * ATM)) * 0.25)

    times = [1e-3 * i / 400 for i in range(401)]
    got = knock.knock_integral(
        times, [pressure(x) for x in times], [temperature(x) for x in times], 95.0
    )
    want = quad(lambda x: 1 / knock.ignition_delay(95.0, pressure(x), temperature(x)), 0, 1e-3)[0]
    assert got == pytest.approx(want, rel=1e-4)


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


@pytest.mark.parametrize(
    "call",
    [
        lambda: knock.ignition_delay(0.0, ATM, 800),
        lambda: knock.ignition_delay(95, -ATM, 800),
        lambda: knock.equivalent_octane(95, ATM, 800, ATM, 0.0),
        lambda: knock.knock_integral([0.0], [ATM], [800.0], 95),
        lambda: knock.knock_integral([0.0, 1.0], [ATM], [800.0, 800.0], 95),
        lambda: knock.knock_integral([0.0, 0.0], [ATM] * 2, [800.0] * 2, 95),
    ],
)
def test_nonsense_is_refused(call) -> None:
    with pytest.raises(ValueError, match=r"must|needs"):
        call()
