"""What past results may and may not do to the next band."""

from math import exp, log, sqrt

import numpy as np
import pytest

from buildlog.physics.learning import Learned, Result, adjust, learn


def test_nothing_measured_nothing_learned():
    assert learn([]) == Learned(0.0, pytest.approx(0.06), 1.0, 1.0, 0)


def test_update_is_the_conjugate_one():
    """Normal prior and likelihood: the posterior by brute force on a grid agrees."""
    results = [Result(1.30, 1.40, 0.08, 0.02), Result(1.36, 1.42, 0.07, 0.015)]
    b = np.linspace(-0.5, 0.5, 200_001)
    density = -0.5 * (b / 0.06) ** 2
    for r in results:
        density = density - 0.5 * ((log(r.measured / r.predicted) - b) / r.sd) ** 2
    weight = np.exp(density - density.max())
    mean = (weight * b).sum() / weight.sum()
    sd = sqrt((weight * (b - mean) ** 2).sum() / weight.sum())
    learned = learn(results)
    assert learned.shift == pytest.approx(mean, abs=1e-9)
    assert learned.shift_sd == pytest.approx(sd, abs=1e-9)


def test_shift_shrinks_towards_zero_and_grows_with_evidence():
    one, many = (learn([Result(1.26, 1.40, 0.08, 0.02)] * n) for n in (1, 20))
    truth = log(1.26 / 1.40)
    assert truth < many.shift < one.shift < 0
    assert many.shift_sd < one.shift_sd < 0.06


def test_band_never_widens_but_the_excess_is_told():
    wild = [Result(1.4 * exp(x), 1.4, 0.05, 0.01) for x in (0.3, -0.3, 0.25, -0.25)]
    learned = learn(wild)
    assert learned.width == 1.0
    assert learned.spread > 1.5
    assert learn([Result(1.4, 1.4, 0.05, 0.01)] * 8).width < 0.8


def test_adjustment_moves_and_narrows():
    learned = Learned(-0.05, 0.03, 0.8, 0.8, 6)
    low, mid, high = (adjust(q, 1.40, learned) for q in (1.28, 1.40, 1.53))
    assert mid == pytest.approx(1.40 * exp(-0.05))
    assert log(high / low) == pytest.approx(0.8 * log(1.53 / 1.28))


def test_simulated_shop_bias_falls_and_width_does_not_grow():
    random = np.random.default_rng(11)
    truth = -0.05 + random.normal(0, 0.05, 30)
    results = [Result(1.4 * exp(x), 1.4, 0.05, 0.015) for x in truth]
    raw = [r.residual for r in results]
    rest = [x - learn(results[:i]).shift for i, x in enumerate(raw)]
    assert abs(np.mean(rest)) < 0.5 * abs(np.mean(raw))
    assert all(learn(results[:i]).width <= 1 for i in range(31))


def test_a_result_without_spread_is_refused():
    with pytest.raises(ValueError, match="spread above zero"):
        learn([Result(1.3, 1.4, 0.0, 0.0)])
