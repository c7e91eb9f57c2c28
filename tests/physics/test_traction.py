"""Tyres: rating, load, age, and grip by equilibrium."""

from datetime import date, timedelta
from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildlog.physics.engines import losses
from buildlog.physics.numerics.constants import G0
from buildlog.physics.parts import traction


@pytest.mark.parametrize(
    ("symbol", "kmh"),
    [("Q", 160), ("S", 180), ("T", 190), ("H", 210), ("V", 240), ("W", 270), ("Y", 300)],
)
def test_speed_symbols_of_a_car_maker_s_page(symbol: str, kmh: int) -> None:
    """A car maker's support page (opened); S from another page (opened)."""
    assert traction.speed_rating(symbol) * 3.6 == pytest.approx(kmh)
    assert traction.speed_rating(f" {symbol.lower()} ") * 3.6 == pytest.approx(kmh)


def test_h_is_130_miles_per_hour() -> None:
    assert round(traction.speed_rating("H") / 0.44704) == 130


def test_axle_capacity_and_load_at_speed() -> None:
    """UN R30 (from memory): V bears 91 % at 240, W and Y 85 % at their own speed."""
    assert traction.axle_capacity(91) == 2 * 615
    assert traction.axle_capacity(91, 2, "V", 200 / 3.6) == 2 * 615
    assert traction.axle_capacity(91, 2, "V", 240 / 3.6) == pytest.approx(2 * 615 * 0.91)
    assert traction.axle_capacity(91, 2, "W", 270 / 3.6) == pytest.approx(2 * 615 * 0.85)
    assert traction.axle_capacity(91, 2, "Y", 330 / 3.6) == pytest.approx(2 * 615 * 0.85)
    assert traction.axle_capacity(91, 4, "H", 210 / 3.6) == 4 * 615


@pytest.mark.parametrize(
    ("symbol", "kmh", "share"),
    [("V", 210, 1), ("V", 225, 0.955), ("W", 240, 1), ("W", 255, 0.925), ("Y", 270, 1),
     ("Y", 285, 0.925), ("H", 210, 1)],
)  # fmt: skip
def test_load_falls_in_a_straight_line_to_the_symbol_s_speed(
    symbol: str, kmh: float, share: float
) -> None:
    assert traction.load_share(symbol, kmh / 3.6) == pytest.approx(share)


@given(st.dates(date(2000, 1, 3), date(2099, 12, 27)))
def test_every_monday_reads_back_from_its_code(day: date) -> None:
    monday = day - timedelta(days=day.weekday())
    year, week, _ = monday.isocalendar()
    assert traction.made_on(f"DOT XX1Y ABC {week:02d}{year % 100:02d}") == monday
    assert traction.age_years(monday, monday) == 0.0


def test_age_at_a_birthday() -> None:
    assert traction.age_years(date(2016, 3, 7), date(2026, 3, 7)) == pytest.approx(10, abs=0.01)


@given(st.floats(0.3, 1.6), st.floats(200, 2000), st.floats(0.05, 0.4))
def test_grip_is_the_fixed_point_of_load_transfer(mu: float, mass: float, height: float) -> None:
    """F = mu (m g + F h/L), walked to rest."""
    force = 0.0
    for _ in range(400):
        force = mu * (mass * G0 + force * height)
    assert traction.grip_force(mu, mass, height) == pytest.approx(force, rel=1e-6)
    assert traction.grip_force(mu, mass, -height) < traction.grip_force(mu, mass)


def test_traction_of_a_textbooks_rear_driven_car() -> None:
    """Gillespie, Fundamentals of Vehicle Dynamics, the example on traction-limited acceleration in
    ch. 2 (inputs and answers from memory): 3,950 lb of which 1,850 on the rear axle, centre of
    gravity 21 in high, wheelbase 108 in, friction 0.62, locked: 1,304 lb and 0.330 g."""
    pound = 0.45359237
    force = traction.grip_force(0.62, 1850 * pound, 21 / 108) / (pound * G0)
    assert force == pytest.approx(1304, abs=1)
    assert force / 3950 == pytest.approx(0.330, abs=5e-4)


@given(st.floats(50, 800), st.floats(1, 15), st.floats(0.25, 0.4))
def test_torque_at_grip_answers_the_wheel_force(torque: float, ratio: float, radius: float) -> None:
    omega = 500.0
    force = losses.wheel_force(torque * omega, omega, ratio, 2 * pi * radius)
    assert traction.torque_at_grip(force, ratio, radius) == pytest.approx(torque, rel=1e-9)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: traction.speed_rating("X"), "not a speed symbol"),
        (lambda: traction.axle_capacity(9), "not a load index"),
        (lambda: traction.axle_capacity(91, 0), "number of tires"),
        (lambda: traction.load_share("V", -1.0), "speed"),
        (lambda: traction.made_on("239"), "three digits mean"),
        (lambda: traction.made_on("5419"), "no week 54"),
        (lambda: traction.made_on("0019"), "no week 0"),
        (lambda: traction.made_on(""), "not a tire's date code"),
        (lambda: traction.age_years(date(2026, 1, 1), date(2025, 1, 1)), "made .* after"),
        (lambda: traction.grip_force(0.0, 700.0), "tire friction"),
        (lambda: traction.grip_force(1.5, 700.0, 0.7), "lift the front"),
        (lambda: traction.torque_at_grip(1e3, 0.0, 0.3), "overall ratio"),
    ],
)
def test_nonsense_is_refused(call, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()
