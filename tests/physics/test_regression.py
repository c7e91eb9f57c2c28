"""Local quadratic regression against numpy's and scipy's own least squares."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import savgol_filter

from buildlog.physics.numerics.regression import fit_trace, grid, local_quadratic, noise, peak
from tests.counting import lines_run


def reference(x: np.ndarray, y: np.ndarray, place: float, width: float) -> tuple[float, float]:
    u = np.abs(x - place) / (width / 2)
    near = u < 1
    weight = np.sqrt((1 - u[near] ** 3) ** 3)
    coefficients = np.polyfit(x[near] - place, y[near], 2, w=weight)
    return float(coefficients[2]), float(coefficients[1])


def test_agrees_with_weighted_polyfit_on_uneven_unsorted_samples() -> None:
    rng = np.random.default_rng(7)
    x = rng.uniform(2000, 6500, 600)
    y = 200 * np.sin(x / 2500) + rng.normal(0, 2, x.size)
    places = grid(2100, 6400, 50)
    fit = local_quadratic(x, y, places, 400.0)
    for i in range(0, places.size, 7):
        value, slope = reference(x, y, places[i], 400.0)
        assert fit.values[i] == pytest.approx(value, rel=1e-9)
        assert fit.slope[i] == pytest.approx(slope, rel=1e-7, abs=1e-10)


def test_agrees_with_savitzky_golay_where_the_weights_do_not_matter() -> None:
    # On a cubic the symmetric local parabola is exact whatever the weights: the widely
    # used equal-weight filter and this one must give the same value and slope.
    x = np.linspace(-5, 5, 201)
    y = x**3 - 4 * x
    ours = local_quadratic(x, y, x[50:-50], 20 * (x[1] - x[0]))
    theirs = savgol_filter(y, 21, 3)[50:-50]
    assert np.allclose(ours.values, theirs, atol=1e-9)


def test_gain_is_the_variance_that_is_left() -> None:
    rng = np.random.default_rng(1)
    x = np.linspace(0, 10, 500)
    places = np.array([3.0, 5.0])
    fits = [local_quadratic(x, rng.normal(0, 1, x.size), places, 2.0) for _ in range(800)]
    values = np.array([f.values for f in fits])
    slopes = np.array([f.slope for f in fits])
    assert values.var(axis=0) == pytest.approx(fits[0].gain, rel=0.2)
    assert slopes.var(axis=0) == pytest.approx(fits[0].slope_gain, rel=0.2)


def test_never_extrapolates_and_leaves_gaps_open() -> None:
    x = np.concatenate([np.linspace(0, 4, 100), np.linspace(8, 10, 50)])
    fit = local_quadratic(x, x, [-0.5, 0.0, 2.0, 4.5, 6.0, 9.0, 10.0, 10.1], 2.0)
    assert np.isnan(fit.values).tolist() == [True, False, False, True, True, False, False, True]


def test_samples_at_two_places_make_no_parabola() -> None:
    x = np.array([1.0, 1.0, 1.0, 2.0, 2.0, 2.0])
    assert np.isnan(local_quadratic(x, x, [1.5], 4.0).values[0])


def test_a_fit_takes_a_loop_over_its_places_and_none_over_the_samples() -> None:
    places = grid(2000, 5990, 50)
    assert places.size == 80
    counts = []
    for samples in (2_000, 20_000):
        x = np.linspace(2000, 6000, samples)
        with lines_run() as run:
            local_quadratic(x, np.sin(x / 1000), places, 300.0)
        counts.append(run.number)
    assert counts[1] < 1.1 * counts[0]
    assert counts[0] < 50 * places.size


def test_a_long_trace_is_fitted_at_4000_places_and_read_between() -> None:
    t = np.linspace(0, 10, 50_001)
    fit = fit_trace(t, np.sin(t), 0.2)
    assert fit.at.size == t.size
    assert np.abs(fit.values - np.sin(t)).max() < 1e-5
    assert np.abs(fit.slope - np.cos(t))[500:-500].max() < 1e-3


def test_many_samples_are_averaged_first_without_changing_the_fit() -> None:
    rng = np.random.default_rng(8)
    x = np.sort(rng.uniform(2000, 6500, 300_000))
    y = 200 * np.sin(x / 900) + rng.normal(0, 2, x.size)
    fit = local_quadratic(x, y, [2500.0, 4000.0, 6100.0], 300.0)
    for place, value, slope in zip(fit.at, fit.values, fit.slope, strict=True):
        expected = reference(x, y, place, 300.0)
        assert (value, slope) == pytest.approx(expected, rel=3e-4)
    few = local_quadratic(x[::100], y[::100], [4000.0], 300.0)
    assert fit.gain[1] == pytest.approx(few.gain[0] / 100, rel=0.2)


def test_grid_holds_multiples_even_when_the_step_is_50_rpm_in_si() -> None:
    step = 50 * np.pi / 30
    places = grid(2000 * np.pi / 30, 2200 * np.pi / 30, step)
    assert places.size == 5
    assert places[0] == pytest.approx(2000 * np.pi / 30)


def test_peak_is_not_the_largest_noisy_sample() -> None:
    rng = np.random.default_rng(3)
    x = np.linspace(3000, 6500, 700)
    true = 150 - 20 * ((x - 5500) / 1500) ** 2
    found = []
    for _ in range(200):
        y = true + rng.normal(0, 1.5, x.size)
        top = peak(x, y, 800.0)
        found.append((top.location, top.value, top.u_location, top.u_value))
        assert top.value < y.max()
    location, value, u_location, u_value = np.array(found).T
    assert value.mean() == pytest.approx(150, abs=0.25)  # the largest sample would say 153
    assert value.std() == pytest.approx(u_value.mean(), rel=0.35)
    assert location.mean() == pytest.approx(5500, abs=25)
    assert np.median(u_location) == pytest.approx(location.std(), rel=0.6)


def test_peak_at_the_end_of_the_range_is_said_to_be_there() -> None:
    x = np.linspace(2000, 6000, 300)
    top = peak(x, x / 100, 300.0)
    assert top.at_edge
    assert top.location == pytest.approx(6000)
    assert np.isinf(top.u_location)


def test_correlated_noise_widens_the_peak_uncertainty() -> None:
    rng = np.random.default_rng(5)
    x = np.linspace(2000, 6000, 800)
    true = 150 - 20 * ((x - 4500) / 1500) ** 2
    white = rng.normal(0, 1, x.size)
    red = np.empty_like(white)
    red[0] = white[0]
    for i in range(1, red.size):
        red[i] = 0.7 * red[i - 1] + np.sqrt(1 - 0.49) * white[i]
    assert noise(x, true + white, 600)[1] < 0.2
    assert noise(x, true + red, 600)[1] > 0.5
    assert peak(x, true + red, 600).u_value > 1.5 * peak(x, true + white, 600).u_value


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: local_quadratic([1, 2], [1], [1], 1), "rows"),
        (lambda: local_quadratic([1, 2], [1, 2], [1], 0), "width"),
        (lambda: grid(0, 1, 0), "step"),
        (lambda: peak([1], [1], 1), "four samples"),
        (lambda: peak([1, 1, 1, 1, 1], [1, 2, 3, 4, 5], 1), "different places"),
        (lambda: peak([0, 100, 200, 300], [1, 2, 3, 4], 10), "too small"),
    ],
)
def test_nonsense_is_a_sentence(call, words) -> None:
    with pytest.raises(ValueError, match=words):
        call()
