"""What past results may and may not do to the next band."""

from math import exp, log, sqrt

import numpy as np
import pytest
import scipy.stats

from buildlog.physics.engines.learning import (
    Learned,
    Result,
    adjust,
    adjusted,
    back_test,
    in_sequence,
    learn,
    with_scatter,
)

BAND = 2 * 1.2815515655446004 * 0.06
"""ln P90/P10 of a band whose standard deviation is 6 %."""


def result(measured, predicted, predicted_sd, measured_sd):
    """A result with a symmetric band of this standard deviation of its logarithm."""
    half = exp(1.2815515655446004 * predicted_sd)
    return Result(measured, predicted / half, predicted, predicted * half, measured_sd)


def test_nothing_measured_nothing_learned():
    assert learn([]) == Learned(0.0, pytest.approx(0.06), 1.0, 1.0, 0)


def test_sd_combines_band_and_scatter():
    assert result(1.4, 1.4, 0.08, 0.06).sd == pytest.approx(0.10)


def test_update_is_the_conjugate_one():
    """Normal prior and likelihood: the posterior by brute force on a grid agrees."""
    results = [result(1.30, 1.40, 0.08, 0.02), result(1.36, 1.42, 0.07, 0.015)]
    b = np.linspace(-0.5, 0.5, 200_001)
    density = -0.5 * (b / 0.06) ** 2
    for r in results:
        density = (
            density - 0.5 * ((log(r.measured / r.p50) - b * log(r.p90 / r.p10) / BAND) / r.sd) ** 2
        )
    weight = np.exp(density - density.max())
    mean = (weight * b).sum() / weight.sum()
    sd = sqrt((weight * (b - mean) ** 2).sum() / weight.sum())
    learned = learn(results)
    assert learned.shift == pytest.approx(mean, abs=1e-9)
    assert learned.shift_sd == pytest.approx(sd, abs=1e-9)


def test_shift_shrinks_towards_zero_and_grows_with_evidence():
    one, many = (learn([result(1.26, 1.40, 0.08, 0.02)] * n) for n in (1, 20))
    truth = log(1.26 / 1.40)
    assert truth < many.shift < one.shift < 0
    assert many.shift_sd < one.shift_sd < 0.06


def test_band_widens_where_results_scatter_further_than_it_promised():
    wild = [result(1.4 * exp(x), 1.4, 0.05, 0.01) for x in (0.3, -0.3, 0.25, -0.25)]
    learned = learn(wild)
    assert learned.width == learned.spread > 1.5
    assert learn([result(1.4, 1.4, 0.05, 0.01)] * 8).width < 0.8


def test_adjustment_moves_and_narrows():
    learned = Learned(-0.05, 0.03, 0.8, 0.8, 6)
    low, mid, high = (adjust(q, 1.40, 1.0, learned) for q in (1.28, 1.40, 1.53))
    assert mid == pytest.approx(1.40 * exp(-0.05))
    assert log(high / low) == pytest.approx(0.8 * log(1.53 / 1.28))


def test_a_firm_prediction_moves_little_and_no_change_not_at_all():
    """The shared error goes with what the band leaves open, whichever way the stage goes."""
    learned = Learned(-0.05, 0.03, 0.8, 0.8, 6)

    def moved(middle, sd):
        return log(adjusted(result(middle, middle, sd, 0.01), learned).p50 / middle)

    nothing = adjusted(Result(1.01, 1.0, 1.0, 1.0, 0.01), learned)
    assert (nothing.p10, nothing.p50, nothing.p90) == (1.0, 1.0, 1.0)
    assert moved(1.4, 0.06) == pytest.approx(-0.05)
    assert moved(1.4, 0.12) == pytest.approx(-0.10)
    assert moved(1.02, 0.006) == pytest.approx(-0.005)
    assert moved(0.95, 0.006) == pytest.approx(-0.005)


def test_a_bias_of_small_firm_stages_is_learned_too():
    """Fuel, compression, exhaust: 1 % gained, 1 % bias. A shift that grew with the gain could
    not learn it."""
    results = [result(1.02, 1.01, 0.01, 0.01)] * 40
    raw, learnt = back_test(results), back_test(in_sequence(results))
    assert learnt.bias < 0.6 * raw.bias
    assert learnt.width <= raw.width


def test_adjustment_takes_curves():
    learned = Learned(-0.05, 0.03, 0.8, 0.8, 6)
    curve = adjust(np.array([1.3, 1.5]), np.array([1.4, 1.4]), 1.0, learned)
    assert curve[0] == pytest.approx(adjust(1.3, 1.4, 1.0, learned))


def test_scatter_widens_what_will_be_measured():
    low, high = with_scatter(1.3, 1.4, 1.5, 0.02)
    assert low < 1.3
    assert high > 1.5
    alone = with_scatter(1.4, 1.4, 1.4, 0.02)
    assert log(alone[1] / alone[0]) == pytest.approx(2 * 1.28155 * 0.02, rel=1e-5)


def test_back_test_counts():
    results = [result(m, 1.4, 0.05, 0.0) for m in (1.2, 1.38, 1.4, 1.42, 1.6)]
    report = back_test(results)
    assert report.inside == 0.6
    assert report.bias == pytest.approx(np.mean([log(r.measured / 1.4) for r in results]))
    assert report.width == pytest.approx(2 * 1.28155 * 0.05, rel=1e-5)
    residuals = [log(r.measured / 1.4) for r in results]
    assert report.bias_error == pytest.approx(scipy.stats.sem(residuals))
    assert back_test(results[:1]).bias_error is None
    with pytest.raises(ValueError, match="no measured stages"):
        back_test([])


def test_simulated_shop_bias_falls_and_width_does_not_grow():
    random = np.random.default_rng(11)
    results = [result(1.4 * exp(x), 1.4, 0.05, 0.015) for x in random.normal(-0.05, 0.05, 30)]
    raw, learnt = back_test(results), back_test(in_sequence(results))
    assert abs(learnt.bias) < 0.5 * abs(raw.bias)
    assert learnt.width <= raw.width


def test_learning_does_not_look_ahead():
    results = [result(1.2, 1.4, 0.05, 0.01), result(1.3, 1.4, 0.05, 0.01)]
    first, second = in_sequence(results)
    assert first.p50 == pytest.approx(results[0].p50)
    assert second == adjusted(results[1], learn(results[:1]))


def test_a_result_without_spread_is_refused():
    with pytest.raises(ValueError, match="spread above zero"):
        learn([Result(1.3, 1.4, 1.4, 1.4, 0.0)])
