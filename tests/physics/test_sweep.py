"""Trimming a recording to the full-load sweep: nothing silently lost, nothing invented."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildlog.physics.traces.sweep import axis_noise, trim_sweep
from tests.counting import bytes_held, lines_run

RPM = np.pi / 30


def pull(rows: int = 400, lo: float = 2000, hi: float = 6500, noise: float = 0.0, seed: int = 1):
    """Engine speed [rad/s], power [W] and time [s] of one clean pull at 50 Hz."""
    rng = np.random.default_rng(seed)
    rpm = np.linspace(lo, hi, rows) + rng.normal(0, noise, rows)
    torque = 250 - 40 * ((rpm - 4300) / 2200) ** 2
    return rpm * RPM, torque * rpm * RPM, np.arange(rows) * 0.02


def counted(sweep) -> int:
    cuts = sweep.cut_before + sweep.cut_after + sweep.cut_within
    return len(sweep.index) + sum(cut.count for cut in cuts)


def test_a_clean_pull_loses_nothing() -> None:
    x, p, t = pull(noise=4)
    sweep = trim_sweep(x, p, time=t)
    assert len(sweep.index) == x.size
    assert counted(sweep) == x.size
    assert sweep.noise == pytest.approx(4 * RPM, rel=0.15)


def test_a_fast_log_with_a_noisy_axis_keeps_its_rows() -> None:
    # Rising by a twentieth of its noise per row, the axis backs up all the time.
    x, p, t = pull(rows=20000, noise=10)
    sweep = trim_sweep(x, p, time=t / 50)
    assert len(sweep.index) > 0.995 * x.size
    line = np.polyfit(np.arange(x.size), x, 1)
    bias = x[sweep.index] - np.polyval(line, sweep.index)
    assert abs(bias.mean()) < 0.05 * 10 * RPM


def test_lead_in_and_lift_off_are_dropped_and_said() -> None:
    x, p, _ = pull()
    lead = 60
    x = np.concatenate([np.full(lead, x[0]), x, np.linspace(x[-1], x[0], 80)])
    p = np.concatenate([np.full(lead, 0.1 * p[0]), p, np.full(80, -3000.0)])
    sweep = trim_sweep(x, p, time=np.arange(x.size) * 0.02)
    assert sweep.index[0] == pytest.approx(lead, abs=2)
    assert sweep.index[-1] == pytest.approx(lead + 399, abs=2)
    assert {cut.reason for cut in sweep.cut_before} <= {"before the pull", "outside the rise"}
    assert sum(cut.count for cut in sweep.cut_after) >= 79
    assert counted(sweep) == x.size
    assert any("before the sweep" in line for line in sweep.sentences())


def test_power_that_collapses_before_the_axis_turns_is_lift_off() -> None:
    x, p, t = pull()
    p = p.copy()
    p[-12:] *= np.linspace(0.9, 0.0, 12)
    sweep = trim_sweep(x, p, time=t)
    assert sweep.cut_after[0].reason == "lift-off or limiter"
    assert 10 <= sweep.cut_after[0].count <= 14


def test_a_torque_that_rises_with_boost_is_kept_from_the_start() -> None:
    x, _, t = pull()
    torque = 120 + 280 / (1 + np.exp(-(x / RPM - 3000) / 220))
    sweep = trim_sweep(x, torque * x, time=t)
    assert len(sweep.index) == x.size


def test_falling_power_after_the_peak_is_kept() -> None:
    x, _, t = pull()
    torque = 300 - 170 * np.clip((x / RPM - 4000) / 2500, 0, 1)
    assert len(trim_sweep(x, torque * x, time=t).index) == x.size


def test_backing_up_and_repeats_are_cut_within() -> None:
    x, p, t = pull()
    x, p = x.copy(), p.copy()
    x[200:204] -= 80 * RPM  # a short back-up, smaller than the reversal tolerance
    x[300], p[300] = x[299], p[299]
    sweep = trim_sweep(x, p, time=t)
    reasons = {cut.reason: cut for cut in sweep.cut_within}
    assert reasons["backing up"].first == 200
    assert reasons["backing up"].count == 4
    assert reasons["repeated row"].count == 1
    assert counted(sweep) == x.size


def test_missing_and_negative_values_are_counted() -> None:
    x, p, t = pull()
    x, p = x.copy(), p.copy()
    x[50], p[60], p[70] = np.nan, np.nan, -5.0
    sweep = trim_sweep(x, p, time=t)
    reasons = {cut.reason: cut.count for cut in sweep.cut_within}
    assert reasons == {"not a number": 2, "power below zero": 1}


def test_of_three_runs_in_one_file_the_widest_is_taken() -> None:
    up = [np.linspace(2000, top, 300) for top in (6000, 6400, 6200)]
    down = np.linspace(6000, 2000, 150)
    x = np.concatenate([up[0], down, up[1], down, up[2]]) * RPM
    sweep = trim_sweep(x)
    assert "several runs" in sweep.flags
    assert sweep.index[0] == pytest.approx(450, abs=2)
    assert counted(sweep) == x.size


def test_runs_pasted_one_after_another_split_where_time_restarts() -> None:
    x, p, t = pull()
    sweep = trim_sweep(np.tile(x, 2), np.tile(p, 2), time=np.tile(t, 2))
    assert "time runs backwards" in sweep.flags
    assert len(sweep.index) == x.size


def test_no_run_is_taken_across_a_jump_in_time() -> None:
    x, p, t = pull()
    t = t.copy()
    t[300:] += 30
    sweep = trim_sweep(x, p, time=t)
    assert "time jumps" in sweep.flags
    assert sweep.index.max() == 299
    assert counted(sweep) == x.size


def test_tables_without_time_in_falling_or_no_order() -> None:
    x, p, _ = pull()
    falling = trim_sweep(x[::-1], p[::-1])
    assert falling.flags == ("in falling order",)
    assert np.all(np.diff(x[::-1][falling.index]) > 0)
    order = np.random.default_rng(4).permutation(x.size)
    shuffled = trim_sweep(x[order], p[order])
    assert shuffled.flags == ("in no order",)
    assert np.all(np.diff(x[order][shuffled.index]) > 0)
    assert len(shuffled.index) == x.size


@pytest.mark.parametrize(
    ("axis", "power", "words"),
    [
        (np.full(100, 300.0), None, "stuck"),
        (np.array([300.0]), None, "two rows"),
        (np.array([]), None, "two rows"),
        (np.full(50, np.nan), None, "two rows"),
        (np.linspace(1, 2, 20), np.ones(19), "19"),
        (np.linspace(200, 600, 100), np.full(100, -1.0), "below zero"),
        (np.linspace(200, 600, 5), None, "at least 10"),
    ],
)
def test_hopeless_input_is_a_sentence(axis, power, words) -> None:
    with pytest.raises(ValueError, match=words):
        trim_sweep(axis, power)


@settings(max_examples=60)
@given(
    st.integers(0, 80),
    st.integers(0, 80),
    st.floats(0, 8),
    st.integers(1, 10**6),
    st.lists(st.integers(0, 399), max_size=12),
)
def test_every_row_is_kept_or_named(lead, tail, noise, seed, holes) -> None:
    x, p, _ = pull(noise=noise, seed=seed)
    x, p = x.copy(), p.copy()
    x[holes] = np.nan
    x = np.concatenate([np.full(lead, 2000 * RPM), x, np.linspace(6400, 3000, tail) * RPM])
    p = np.concatenate([np.zeros(lead), p, np.zeros(tail)])
    sweep = trim_sweep(x, p, time=np.arange(x.size) * 0.02)
    assert counted(sweep) == x.size
    assert len(set(sweep.index.tolist())) == len(sweep.index)
    assert np.isfinite(x[sweep.index]).all()
    kept = sweep.index - lead
    assert np.mean((kept >= 0) & (kept < 400)) > 0.98
    assert len(kept) > 350


def test_axis_noise_ignores_turning_points() -> None:
    rng = np.random.default_rng(2)
    course = np.concatenate([np.linspace(0, 100, 500), np.linspace(100, 0, 500)])
    assert axis_noise(course + rng.normal(0, 0.5, 1000)) == pytest.approx(0.5, rel=0.1)


def test_a_million_rows_take_no_loop_over_rows_and_little_memory() -> None:
    one = np.concatenate([np.linspace(200, 700, 3000), np.linspace(700, 200, 2000)])
    x = np.tile(one, 200)
    y, time = x * 300, np.arange(x.size) * 0.01
    with lines_run() as run:
        sweep = trim_sweep(x, y, time=time)
    assert run.number < 100 * 400  # the course turns 400 times
    with bytes_held() as held:
        trim_sweep(x, y, time=time)
    assert held.number < 20 * 8 * x.size
    assert counted(sweep) == x.size
