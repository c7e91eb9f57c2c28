"""Alignment of two records by a shared channel, and its refusals."""

from __future__ import annotations

import numpy as np
import pytest

from buildlog.physics.numerics.alignment import align_by_time, onto_speed, onto_time, refined
from tests.counting import bytes_held, lines_run


def course(t: np.ndarray) -> np.ndarray:
    """Engine speed [rad/s]: steady, a pull from 3 s to 13 s, then a fall."""
    return np.interp(t, [0, 3, 13, 16, 20], [210, 210, 680, 260, 220])


def records(shift: float, noise: float = 1.0, seed: int = 1, rate: float = 10.0):
    rng = np.random.default_rng(seed)
    t = np.arange(0, 18, 0.02)
    log_t = np.arange(1.0, 19, 1 / rate)
    a = course(t) + rng.normal(0, noise, t.size)
    b = course(log_t) + rng.normal(0, noise, log_t.size)
    return t, a, log_t - shift, b


@pytest.mark.parametrize("shift", [-7.313, -0.2, 0.0, 3.777, 500.013])
def test_the_shift_is_found_to_better_than_a_sample(shift) -> None:
    found = align_by_time(*records(shift))
    assert found.accepted, found.reason
    assert found.shift == pytest.approx(shift, abs=0.02)
    assert found.match > 0.99


def test_a_straight_rise_alone_still_finds_its_shift() -> None:
    # A plain correlation is 1 at every shift here; the concordance is not.
    t = np.arange(0, 10, 0.02)
    rng = np.random.default_rng(2)
    a = 200 + 45 * t + rng.normal(0, 1, t.size)
    b = 200 + 45 * t + rng.normal(0, 1, t.size)
    found = align_by_time(t, a, t - 2.5, b)
    assert found.shift == pytest.approx(2.5, abs=0.03)
    assert found.accepted


def test_u_shift_is_about_the_spread_that_is_seen() -> None:
    off, said = [], []
    for seed in range(40):
        found = align_by_time(*records(1.234, noise=6.0, seed=seed))
        off.append(found.shift - 1.234)
        said.append(found.u_shift)
    assert 0.3 * np.median(said) < np.std(off) < 2 * np.median(said)
    assert np.median(said) < 0.1


def test_other_units_need_plain_correlation() -> None:
    t, a, log_t, b = records(2.0)
    found = align_by_time(t, a, log_t, b * 9.549, same_quantity=False)
    assert found.accepted, found.reason
    assert found.shift == pytest.approx(2.0, abs=0.03)
    assert not align_by_time(t, a, log_t, b * 9.549).accepted


def test_unrelated_records_are_refused() -> None:
    rng = np.random.default_rng(3)
    t = np.arange(0, 18, 0.02)
    found = align_by_time(t, course(t), t, 400 + 50 * np.cumsum(rng.normal(0, 0.1, t.size)))
    assert not found.accepted
    assert "match" in (found.reason or "")


def test_a_repeating_course_is_refused_as_ambiguous() -> None:
    t = np.arange(0, 40, 0.05)
    wave = 300 + 50 * np.sin(2 * np.pi * t / 5)
    rng = np.random.default_rng(4)
    found = align_by_time(t, wave + rng.normal(0, 1, t.size), t, wave + rng.normal(0, 1, t.size))
    assert not found.accepted
    assert "Another shift" in (found.reason or "")


def test_a_shift_outside_the_allowed_search_is_refused() -> None:
    assert not align_by_time(*records(6.0), max_shift=1.0).accepted


def test_ten_minutes_at_100_hz_take_no_loop_over_samples_and_little_memory() -> None:
    t = np.arange(0, 600, 0.01)
    pull_t = np.arange(0, 15, 0.01)
    log = np.interp(t, [0, 300, 310, 313, 600], [200, 200, 680, 250, 200])
    pull = np.interp(pull_t, [0, 2, 12, 15], [200, 200, 680, 250])
    with lines_run() as run:
        found = align_by_time(pull_t, pull, t, log)
    assert run.number < 15_000
    with bytes_held() as held:
        align_by_time(pull_t, pull, t, log)
    assert held.number < 50 * 8 * t.size
    assert found.shift == pytest.approx(-298, abs=0.02)
    assert found.accepted


def test_by_road_speed() -> None:
    rng = np.random.default_rng(5)
    log_v = np.linspace(10, 50, 300) + rng.normal(0, 0.02, 300)
    log_omega = log_v * 12.5 + rng.normal(0, 1, 300)
    v = np.linspace(5, 45, 200)
    omega = onto_speed(v, log_v, log_omega, 3.0)
    assert np.isnan(omega[0])
    inside = np.isfinite(omega)
    assert np.abs(omega[inside] - 12.5 * v[inside]).max() < 2.0


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda t: align_by_time(t, t * 0 + 1, t, t), "constant"),
        (lambda t: align_by_time(t, t, t[:4], t[:4]), "4 usable rows"),
        (lambda t: align_by_time(t, t, t[::-1], t), "backwards"),
        (lambda t: align_by_time(t, t[:-1], t, t), "times but"),
        (lambda t: onto_time(t, t[:1], t[:1], 0.0), "1 usable"),
    ],
)
def test_nonsense_is_a_sentence(call, words) -> None:
    with pytest.raises(ValueError, match=words):
        call(np.linspace(0, 10, 50))


@pytest.mark.parametrize("gain", [0.97, 1.0, 1.04])
def test_the_finer_shift_is_right_where_one_of_the_two_reads_more(gain) -> None:
    off, said, rough = [], [], []
    for seed in range(20):
        t, a, log_t, b = records(1.234, noise=3.0, seed=seed, rate=8.0)
        t, a = t[150:650], a[150:650]  # the pull alone, as a dyno's file holds it
        found = align_by_time(t, a, log_t, gain * b)
        fine = refined(t, a, log_t, gain * b, found, 0.03)
        off.append(fine.shift - 1.234)
        said.append(fine.u_shift)
        rough.append(found.shift - 1.234)
    assert np.max(np.abs(off)) < 0.1
    assert np.max(np.abs(off) / said) < 3
    assert min(said) >= 0.125 / np.sqrt(12)  # a row as old as the step (JCGM 100:2008, 4.3.7)
    if gain == 1.04:
        assert np.max(np.abs(rough)) > 0.1  # which is why it is sought


def test_a_shift_that_does_not_settle_is_given_back_with_its_doubt() -> None:
    t, a, log_t, b = records(1.234)
    found = align_by_time(t, a, log_t, b)
    away = refined(t, a, log_t + 500, b, found, 0.002)
    assert away.shift == found.shift
    assert away.u_shift >= 0.1
