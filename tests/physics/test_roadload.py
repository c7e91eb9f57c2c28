"""Road load and road power against two published examples and synthetic runs."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from buildlog.physics.traces.roadload import (
    RoadLoad,
    coast_down,
    driveline_mass,
    road_power,
    rotating_mass,
)

TRUE = RoadLoad(140.0, 1.2, 0.42)
MASS = 1543.35


def coasting(seed: int, sd: float = 0.05, grade: float = 0.0, quantum: float = 0.0):
    """Time and speed of one coast-down from 130 to 20 km/h at 10 Hz."""
    pull = 9.80665 * 1500.0 * grade

    def slowing(_t: float, v: np.ndarray) -> np.ndarray:
        return -(TRUE.force(v) + pull) / MASS

    t = np.arange(0, 400, 0.1)
    v = solve_ivp(slowing, (0, 400), [130 / 3.6], t_eval=t, rtol=1e-9, atol=1e-9).y[0]
    keep = v > 20 / 3.6
    noisy = v[keep] + np.random.default_rng(seed).normal(0, sd, keep.sum())
    return t[keep], np.round(noisy / quantum) * quantum if quantum else noisy


def test_eu_2017_1151_rotating_mass_example() -> None:
    # Reg. (EU) 2017/1151 Annex XXI Sub-Annex 4 para 2.5 [opened]; figures computed from it.
    assert rotating_mass(1420) == pytest.approx(43.35)
    assert 1500 + 0.5 * rotating_mass(1420) == pytest.approx(1521.7, abs=0.05)


@pytest.mark.parametrize(
    ("mass", "a", "c", "force", "seconds"),
    [(150, 4.32, 0.0238, 104.9, 3.99), (300, 17.43, 0.0279, 135.4, 6.18)],
)
def test_40_cfr_86_529_table(mass, a, c, force, seconds) -> None:
    # 40 CFR 86.529-98 [opened]: F = A + C V^2 with V in km/h; printed force at 65 km/h and
    # printed coast-down time from 70 to 60 km/h. C is printed to 0.0001, which is 0.2 N.
    load = RoadLoad(a, 0.0, c * 3.6**2)
    assert float(load.force(65 / 3.6)) == pytest.approx(force, abs=0.1)
    coasting = quad(lambda v: mass / float(load.force(v)), 60 / 3.6, 70 / 3.6)[0]
    assert coasting == pytest.approx(seconds, rel=6e-3)


def test_units_of_the_us_form() -> None:
    # 140 N, 1.2 N*s/m, 0.42 N*s^2/m^2 at 100 km/h: 497.41 N, 13.817 kW [computed].
    assert float(TRUE.force(100 / 3.6)) == pytest.approx(497.41, abs=0.005)
    assert float(TRUE.force(100 / 3.6)) * 100 / 3.6 / 1000 == pytest.approx(13.817, abs=5e-4)


def test_coast_down_finds_the_force_within_its_own_uncertainty() -> None:
    v = np.linspace(7, 35, 15)
    misses = []
    for seed in range(60):
        fit = coast_down([coasting(seed)], MASS)
        misses.append((fit.force(v) - TRUE.force(v)) / fit.u_force(v))
        assert np.abs(fit.force(v) / TRUE.force(v) - 1).max() < 0.03
    assert np.sqrt(np.mean(np.square(misses))) == pytest.approx(1.0, abs=0.4)
    assert abs(np.mean(misses)) < 0.4


def test_both_directions_cancel_a_steady_grade() -> None:
    up, down = coasting(1, grade=0.003), coasting(2, grade=-0.003)
    one = coast_down([up], MASS)
    both = coast_down([up, down], MASS)
    v = np.linspace(8, 34, 10)
    assert np.abs(one.force(v) / TRUE.force(v) - 1).max() > 0.08
    assert np.abs(both.force(v) / TRUE.force(v) - 1).max() < 0.03


def test_speed_in_whole_km_per_hour_still_gives_the_force() -> None:
    fit = coast_down([coasting(3, sd=0.02, quantum=1 / 3.6)], MASS)
    v = np.linspace(8, 34, 10)
    assert np.abs(fit.force(v) / TRUE.force(v) - 1).max() < 0.03


def test_road_power_recovers_a_known_power_within_its_interval() -> None:
    mass, rotating, true = 1500.0, 90.0, 120e3

    def gaining(_t: float, v: np.ndarray) -> np.ndarray:
        drag = TRUE.force(v) + mass * 9.80665 * np.sin(np.arctan(0.004))
        return (true / v - drag) / (mass + rotating)

    t = np.arange(0, 12, 0.05)
    v = solve_ivp(gaining, (0, 12), [15.0], t_eval=t, rtol=1e-9, atol=1e-9).y[0]
    seen = v + np.random.default_rng(4).normal(0, 0.03, v.size)
    result = road_power(t, seen, mass, rotating, TRUE, grade=0.004, width=2.0)
    inside = slice(25, -25)
    assert np.median(result.power[inside]) == pytest.approx(true, rel=0.01)
    assert np.abs(result.power[inside] / true - 1).max() < 0.08
    assert 0.02 < float(np.median(result.u[inside])) / true < 0.08
    assert set(result.u_parts) == {"speed noise", "mass", "rotating mass", "road load", "grade"}
    # grade left out: wrong, but by less than twice the interval that is printed
    flat = road_power(t, seen, mass, rotating, TRUE, width=2.0)
    assert np.all(np.abs(flat.power[inside] - true) < 2 * flat.u[inside] + 0.05 * true)


def test_reflected_inertia_example() -> None:
    # Kinetics, computed: 0.08 kg*m^2 at 0.32 m: 112.5 kg in a 12:1 gear, 18.0 kg at 4.8.
    assert driveline_mass(0.08, 12.0, 0.32) == pytest.approx(112.5)
    assert driveline_mass(0.08, 4.8, 0.32) == pytest.approx(18.0)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda t: coast_down([], 1000), "at least one run"),
        (lambda t: coast_down([(t, t)], 1000), "does not slow"),
        (lambda t: coast_down([(t[:5], -t[:5])], 1000), "20 rows"),
        (lambda t: coast_down([(t, 40 - 0.01 * t)], 1000), "too little speed"),
        (lambda t: coast_down([(t, t[:-1])], 1000), "speeds"),
        (lambda t: road_power(t, t, 0, 0, TRUE), "mass"),
        (lambda t: rotating_mass(0), "above zero"),
        (lambda t: driveline_mass(0.1, 0, 0.3), "above zero"),
    ],
)
def test_nonsense_is_a_sentence(call, words) -> None:
    with pytest.raises(ValueError, match=words):
        call(np.linspace(0, 10, 100))
