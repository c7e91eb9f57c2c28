"""Sags: rates by simulation, and what coincides. The full table is in tests/benchmarks."""

from __future__ import annotations

import importlib.util
import math
import sys
from pathlib import Path

import numpy as np
import pytest

from buildlog.physics.traces.sags import Sag, coincides, find_sags
from tests.counting import lines_run

RPM = math.pi / 30
GRID = np.arange(2000, 6501, 50.0)
PATH = Path(__file__).parents[1] / "benchmarks" / "bench_sags.py"


@pytest.fixture(scope="module")
def bench():
    spec = importlib.util.spec_from_file_location("bench_sags", PATH)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["bench_sags"] = module
    spec.loader.exec_module(module)
    return module


def noisy(n: int, seed: int, sd: float = 0.003) -> np.ndarray:
    """n pulls of one hump, power [W], with white noise of relative sd."""
    rng = np.random.default_rng(seed)
    torque = 220 * (1 - 0.2 * ((GRID - 4400) / 2200) ** 2)
    return torque * GRID * RPM * np.exp(rng.normal(0, sd, (n, GRID.size)))


def gauss(place: float, depth: float, width: float = 300) -> np.ndarray:
    return 1 - depth * np.exp(-4 * math.log(2) * ((GRID - place) / width) ** 2)


def test_at_most_4_alarms_on_200_smooth_curves(bench) -> None:
    alarms, _ = bench.rates(200, bench.SMOOTH, None)
    assert alarms <= 4


def test_a_dip_of_2_5_percent_is_found_in_95_of_100(bench) -> None:
    for kind in ("half", "foot"):
        alarms, found = bench.rates(200, bench.SMOOTH, None, 0.025, kind)
        assert found >= 190, (kind, found)
        assert alarms <= 6


def test_a_dip_of_1_2_percent_is_near_what_such_noise_hides(bench) -> None:
    _, found = bench.rates(100, bench.SMOOTH, None, 0.012, "half")
    assert 25 <= found <= 70


def test_rising_boost_is_seldom_called_a_sag(bench) -> None:
    alarms, found = bench.rates(200, (bench.boost,), None)
    assert alarms <= 4
    _, found = bench.rates(100, (bench.boost,), None, 0.025, "half")
    assert found >= 75


def test_place_depth_and_width_are_given_with_their_uncertainty() -> None:
    found = find_sags(GRID * RPM, noisy(4, 1) * gauss(4900, 0.03)).found
    assert len(found) == 1
    sag = found[0]
    assert sag.at / RPM == pytest.approx(4900, abs=50)
    assert sag.depth == pytest.approx(0.03, abs=max(0.008, sag.half_width))
    assert 199 <= sag.width / RPM <= 451
    assert sag.shared
    assert sag.pulls == (0, 1, 2, 3)


def test_depth_half_width_holds_as_often_as_it_says() -> None:
    inside = 0
    for seed in range(150):
        curves = noisy(3, seed, 0.004) * gauss(4800, 0.05)
        sag = max(find_sags(GRID * RPM, curves).found, key=lambda s: s.depth)
        inside += abs(sag.depth - 0.05) <= sag.half_width + 0.004  # one width step of bias
    assert inside >= 135


def test_a_dip_in_one_pull_only_is_said_to_be_so() -> None:
    curves = noisy(4, 2)
    curves[2] *= gauss(4000, 0.035)
    found = find_sags(GRID * RPM, curves).found
    assert [(s.pulls, s.shared) for s in found] == [((2,), False)]
    assert found[0].at / RPM == pytest.approx(4000, abs=100)


def test_two_sags_are_two() -> None:
    curves = noisy(3, 3) * gauss(3200, 0.03) * gauss(5400, 0.04)
    found = find_sags(GRID * RPM, curves).found
    assert [round(s.at / RPM, -2) for s in found] == [3200, 5400]


def test_a_single_pull_can_still_show_a_deep_sag() -> None:
    found = find_sags(GRID * RPM, noisy(1, 4) * gauss(4500, 0.05)).found
    assert len(found) == 1
    assert found[0].at / RPM == pytest.approx(4500, abs=100)
    quiet = sum(bool(find_sags(GRID * RPM, noisy(1, seed)).found) for seed in range(100))
    assert quiet <= 5


def test_a_bulge_is_not_two_sags() -> None:
    curves = noisy(3, 5) / gauss(4300, 0.03)
    assert find_sags(GRID * RPM, curves).found == ()


def test_the_envelope_is_the_curve_with_the_sag_filled() -> None:
    whole = noisy(3, 6, 0.001)
    result = find_sags(GRID * RPM, whole * gauss(4600, 0.04))
    away = np.abs(GRID - 4600) < 600
    assert np.abs(result.envelope[away] / whole.mean(axis=0)[away] - 1).max() < 0.012
    assert result.smallest[0, 1] >= 0.006
    assert np.all(np.diff(result.smallest[:, 0]) > 0)


def test_missing_ends_are_left_out() -> None:
    curves = noisy(3, 7) * gauss(4600, 0.04)
    curves[1, :6] = np.nan
    curves[2, -4:] = np.nan
    result = find_sags(GRID * RPM, curves)
    assert len(result.found) == 1
    assert np.isnan(result.envelope[:6]).all()


def test_road_speed_axis_with_its_own_widths() -> None:
    speed = np.arange(20, 62, 0.5)
    rng = np.random.default_rng(8)
    power = 90e3 * np.sin(speed / 40) * np.exp(rng.normal(0, 0.003, (3, speed.size)))
    power *= 1 - 0.04 * np.exp(-4 * math.log(2) * ((speed - 42) / 3) ** 2)
    found = find_sags(speed, power, widths=(1.0, 12.0)).found
    assert [round(s.at) for s in found] == [42]


def test_what_coincides_and_what_does_not() -> None:
    rng = np.random.default_rng(9)
    curves = noisy(3, 9) * gauss(4900, 0.03)
    sag = find_sags(GRID * RPM, curves).found[0]
    ramp = np.linspace(150e3, 170e3, GRID.size)
    bump = np.exp(-4 * math.log(2) * ((GRID - 4950) / 300) ** 2)
    channels = {
        "knock_retard": 3.0 * bump + rng.normal(0, 0.1, (3, GRID.size)),
        "boost": ramp - 4e3 * bump + rng.normal(0, 300, (3, GRID.size)),
        "lambda": 0.86 + rng.normal(0, 0.004, (3, GRID.size)),
        "fuel_pressure": np.full((3, GRID.size), 300e3),
        "quiet_until_then": 2.0 * (bump > 0.3),
        "not_logged": np.full(GRID.size, np.nan),
    }
    found = {c.channel: c for c in coincides(GRID * RPM, channels, sag)}
    assert found["knock_retard"].exceeds
    assert found["knock_retard"].change == pytest.approx(3.0, abs=0.8)
    assert found["boost"].exceeds
    assert found["boost"].change == pytest.approx(-4e3, abs=1500)
    assert not found["lambda"].exceeds
    assert not found["fuel_pressure"].exceeds
    assert found["quiet_until_then"].exceeds
    assert "not_logged" not in found


def test_noise_alone_seldom_coincides() -> None:
    rng = np.random.default_rng(10)
    sag = Sag(4500 * RPM, 300 * RPM, 0.03, 0.01, (0,), True)
    exceeding = 0
    for _ in range(200):
        walk = rng.normal(0, 1, (3, GRID.size))
        exceeding += coincides(GRID * RPM, {"noise": walk}, sag)[0].exceeds
    assert exceeding <= 4


def test_a_set_takes_little_work_after_the_first() -> None:
    """What is drawn for a grid and a number of pulls is drawn once."""
    find_sags(GRID * RPM, noisy(6, 11))
    with lines_run() as run:
        find_sags(GRID * RPM, noisy(6, 12))
    assert run.number < 30_000


@pytest.mark.parametrize(
    ("axis", "curves", "words"),
    [
        (GRID, np.ones((2, 5)), "places"),
        (GRID, np.full((2, GRID.size), np.nan), "in common"),
        (GRID**2, np.ones((2, GRID.size)), "even steps"),
        (GRID, -np.ones((2, GRID.size)), "above zero"),
        (2000 + np.arange(16.0), np.ones((2, 16)), "too short"),
    ],
)
def test_nonsense_is_a_sentence(axis, curves, words) -> None:
    with pytest.raises(ValueError, match=words):
        find_sags(axis * RPM, curves)
