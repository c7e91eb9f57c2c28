"""Belt: the belt equation by integration, power balance, centrifugal force."""

import tomllib
from math import exp, pi, sin
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from buildlog.physics.parts import belt

TABLES = Path(__file__).parents[2] / "shared" / "tables"
TABLE = tomllib.loads((TABLES / "margin-examples.toml").read_text(encoding="utf-8"))

frictions = st.floats(0.05, 0.8)
wraps = st.floats(0.5, 2 * pi)
grooves = st.floats(0.5, pi)
tensions = st.floats(50, 2000)


def test_handbook_figures() -> None:
    t = TABLE["belt"]
    speed = belt.belt_speed(t["revolutions_per_minute"] * pi / 30, t["pulley_mm"] / 1e3)
    assert speed == pytest.approx(t["speed_m_s"], abs=0.05)
    tension = belt.effective_tension(t["power_kw"] * 1e3, speed)
    assert tension == pytest.approx(t["effective_tension_n"], abs=0.5)


@given(frictions, wraps, grooves)
def test_ratio_is_the_solution_of_the_differential_equation(
    mu: float, wrap: float, groove: float
) -> None:
    """dT/d(theta) = mu T/sin(beta/2), integrated numerically."""
    rate = mu / sin(groove / 2)
    solved = solve_ivp(lambda _, t: rate * t, (0, wrap), [1.0], rtol=1e-9, atol=1e-12)
    assert belt.tension_ratio(mu, wrap, groove) == pytest.approx(solved.y[0, -1], rel=1e-6)


@given(tensions, frictions, wraps, grooves)
def test_at_the_grip_limit_the_two_tensions_stand_in_the_slip_ratio(
    installed: float, mu: float, wrap: float, groove: float
) -> None:
    limit = belt.grip(installed, mu, wrap, groove)
    tight, slack = installed + limit / 2, installed - limit / 2
    assert tight / slack == pytest.approx(belt.tension_ratio(mu, wrap, groove), rel=1e-6)


@given(tensions, frictions, wraps)
def test_grip_grows_with_wrap_and_never_exceeds_twice_the_tension(
    installed: float, mu: float, wrap: float
) -> None:
    more, less = belt.grip(installed, mu, wrap * 1.1), belt.grip(installed, mu, wrap)
    assert less < more < 2 * installed


def test_centrifugal_force_lifts_the_belt() -> None:
    """At T0 = m v^2 nothing is left; half of it halves the grip."""
    mass, speed = 0.1, 50.0
    alone = belt.grip(500.0, 0.4, pi)
    assert belt.grip(500.0, 0.4, pi, pi, mass, speed / 2**0.5) == pytest.approx(alone * 0.75)
    assert belt.grip(250.0, 0.4, pi, pi, mass, speed) == 0.0
    assert belt.grip(200.0, 0.4, pi, pi, mass, speed) == 0.0


def test_a_flat_belt_is_a_groove_of_180_degrees() -> None:
    assert belt.tension_ratio(0.3, pi) == exp(0.3 * pi)
    assert belt.tension_ratio(0.3, pi, 40 * pi / 180) > belt.tension_ratio(0.3, pi)


def test_power_is_shared_by_the_ribs() -> None:
    assert belt.power_per_rib(21e3, 6) * 6 == 21e3


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: belt.belt_speed(100.0, 0.0), "pulley diameter"),
        (lambda: belt.effective_tension(1e3, 0.0), "belt speed"),
        (lambda: belt.effective_tension(-1e3, 10.0), "power"),
        (lambda: belt.tension_ratio(0.3, 0.0), "wrap angle"),
        (lambda: belt.tension_ratio(0.3, pi, 4.0), "180 degrees"),
        (lambda: belt.grip(0.0, 0.3, pi), "installed tension"),
        (lambda: belt.grip(100.0, 0.3, pi, pi, -1.0), "mass per length"),
        (lambda: belt.power_per_rib(1e3, 0), "number of ribs"),
    ],
)
def test_nonsense_is_refused(call, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()
