"""Inertia dyno: a run integrated from a known power curve must give that curve back."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from buildlog.physics.numerics.regression import peak
from buildlog.physics.traces.inertia import roller_power
from buildlog.physics.traces.roadload import RoadLoad, coast_down
from tests.counting import bytes_held, lines_run

RPM = np.pi / 30
INERTIA = 335.34
LOSS = RoadLoad(12.0, 0.10, 0.0006)
RATIO = 6.0  # engine speed over roller speed


def engine_power(omega_roller: np.ndarray) -> np.ndarray:
    """Power [W] at the roller: one hump of torque, peak power near 5900 engine rpm."""
    rpm = omega_roller * RATIO / RPM
    torque = 260 * (1 - 0.30 * ((rpm - 4300) / 2200) ** 2)
    return torque * rpm * RPM


def trace(seed: int, rate: float = 100.0, power=engine_power, share: float = 0.02):
    """Time and roller speed from 2000 to 6600 engine rpm: noise, quantisation and jitter."""
    rng = np.random.default_rng(seed)

    def gaining(_t: float, w: np.ndarray) -> np.ndarray:
        return (power(w) / w - LOSS.force(w)) / (INERTIA * (1 + share))

    def done(_t: float, w: np.ndarray) -> float:
        return float(w[0] - 6600 * RPM / RATIO)

    done.terminal = True  # type: ignore[attr-defined]
    run = solve_ivp(
        gaining, (0, 60), [2000 * RPM / RATIO], rtol=1e-9, atol=1e-9, dense_output=True, events=done
    )
    ticks = np.arange(0, run.t[-1], 1 / rate)
    true_time = ticks + rng.normal(0, 0.0005, ticks.size)  # jitter: half a millisecond
    omega = run.sol(np.clip(true_time, 0, run.t[-1]))[0]
    return ticks, np.round((omega + rng.normal(0, 0.02, omega.size)) / 0.02) * 0.02


def width_for(t: np.ndarray, w: np.ndarray, rpm: float) -> float:
    """Width [s] over which the engine gains so many rpm at its median rate."""
    rate = np.median((w[100:] - w[:-100]) / (t[100:] - t[:-100]))
    return float(rpm * RPM / RATIO / rate)


def true_peak() -> tuple[float, float]:
    w = np.linspace(2000, 6600, 200001) * RPM / RATIO
    values = engine_power(w)
    top = int(np.argmax(values))
    return float(w[top]), float(values[top])


def test_worked_example_of_the_formula() -> None:
    # I 335.34 kg*m^2, r 0.54 m, 100 mph, 3 m/s^2 -> 154.23 kW [computed].
    t = np.linspace(0, 20, 2001)
    result = roller_power(t, 10 + 3 / 0.54 * t, INERTIA, width=0.5)
    at = 100 * 0.44704 / 0.54
    assert np.interp(at, result.omega, result.power) == pytest.approx(154.23e3, rel=1e-4)


@pytest.mark.parametrize("seed", range(8))
def test_peak_within_half_a_percent_despite_noise_quantisation_and_jitter(seed) -> None:
    t, w = trace(seed)
    width = width_for(t, w, 250)
    result = roller_power(t, w, INERTIA, width=width, loss=LOSS, wheels_share=0.02)
    found = peak(result.omega, result.power, 900 * RPM / RATIO)
    place, value = true_peak()
    assert found.value == pytest.approx(value, rel=0.005)
    assert found.location == pytest.approx(place, rel=0.02)
    least, median, most = result.smoothing
    assert median * RATIO / RPM == pytest.approx(250, rel=0.10)
    assert least <= median <= most


def test_no_bias_along_the_curve_on_the_mean_of_many_runs() -> None:
    places = np.arange(2300, 6400, 100) * RPM / RATIO
    curves = []
    for seed in range(12):
        t, w = trace(seed)
        result = roller_power(
            t, w, INERTIA, width=width_for(t, w, 250), loss=LOSS, wheels_share=0.02
        )
        order = np.argsort(result.omega)
        curves.append(np.interp(places, result.omega[order], result.power[order]))
    mean = np.mean(curves, axis=0)
    assert np.abs(mean / engine_power(places) - 1).max() < 0.01
    assert abs(np.mean(mean / engine_power(places) - 1)) < 0.002
    spread = np.std(curves, axis=0)
    assert 0.4 < np.median(spread) / np.nanmedian(result.u_noise) < 2.0


def test_a_notch_is_smeared_only_over_the_stated_width() -> None:
    def notched(omega: np.ndarray) -> np.ndarray:
        rpm = omega * RATIO / RPM
        return engine_power(omega) * np.where(np.abs(rpm - 4500) < 100, 0.90, 1.0)

    t, w = trace(3, rate=500.0, power=notched)
    result = roller_power(t, w, INERTIA, width=width_for(t, w, 300), loss=LOSS, wheels_share=0.02)
    most = result.smoothing[2] * RATIO
    rpm = result.omega * RATIO / RPM
    off = np.abs(result.power / notched(result.omega) - 1)
    away = (np.abs(rpm - 4500) > 100 + 0.5 * most / RPM + 30) & (rpm > 2300) & (rpm < 6400)
    near = np.abs(rpm - 4500) < 100
    assert off[away].max() < 0.03
    assert off[near].max() > 0.04


def test_a_million_rows_take_no_loop_over_rows_and_little_memory() -> None:
    few, t = np.linspace(0, 10, 10_000), np.linspace(0, 10, 1_000_000)
    with lines_run() as small:
        roller_power(few, 20 + 6 * few, INERTIA, width=0.4)
    with lines_run() as large:
        result = roller_power(t, 20 + 6 * t, INERTIA, width=0.4)
    assert large.number < 1.1 * small.number
    with bytes_held() as held:
        roller_power(t, 20 + 6 * t, INERTIA, width=0.4)
    assert held.number < 20 * 8 * t.size
    assert result.power[500_000] == pytest.approx(INERTIA * 50 * 6, rel=1e-4)


def test_what_is_left_out_is_missing_by_what_it_weighs() -> None:
    t, w = trace(1)
    whole = roller_power(t, w, INERTIA, width=0.4, loss=LOSS, wheels_share=0.02)
    bare = roller_power(t, w, INERTIA, width=0.4)
    share = np.nanmedian((whole.power - LOSS.force(whole.omega) * whole.omega) / bare.power)
    assert share == pytest.approx(1.02)
    assert np.nanmedian(bare.power) < np.nanmedian(whole.power)


def test_the_rollers_own_drag_from_its_coast_down() -> None:
    rng = np.random.default_rng(5)
    t = np.arange(0, 900, 0.1)
    slow = solve_ivp(
        lambda _t, w: -LOSS.force(w) / INERTIA, (0, 900), [110.0], t_eval=t, rtol=1e-9, atol=1e-9
    )
    found = coast_down([(t, slow.y[0] + rng.normal(0, 0.02, t.size))], INERTIA)
    w = np.linspace(slow.y[0][-1], 110, 20)
    assert np.abs(found.force(w) / LOSS.force(w) - 1).max() < 0.02


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda t: roller_power(t, t, 0.0), "inertia"),
        (lambda t: roller_power(t[:5], t[:5], 1.0), "20 rows"),
        (lambda t: roller_power(t[::-1], t, 1.0), "backwards"),
        (lambda t: roller_power(t, t, 1.0, width=1e-6), "too small"),
    ],
)
def test_nonsense_is_a_sentence(call, words) -> None:
    with pytest.raises(ValueError, match=words):
        call(np.linspace(0, 10, 100))


def test_where_a_trace_ends_its_noise_is_no_power() -> None:
    """The window has one side there: the slope's noise grows ninefold, and a pull that ends while
    its power rises would have its highest value from that. Checked against the power that the
    trace was integrated from."""
    for seed in range(10):
        t, w = trace(seed)
        kept = w <= 5200 * RPM / RATIO
        result = roller_power(t[kept], w[kept], INERTIA, loss=LOSS, wheels_share=0.02)
        known = np.isfinite(result.power)
        true = engine_power(result.omega[known])
        assert known.mean() > 0.97
        noise = result.u_noise[known] / result.omega[known]  # of the slope
        assert noise.max() <= 2.05 * np.median(noise)
        assert np.abs(result.power[known][-1] / true[-1] - 1) < 0.06
        assert result.power[known].max() < 1.06 * true.max()
