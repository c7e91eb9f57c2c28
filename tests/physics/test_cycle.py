"""Checks of mixture, spark, compression, residual gas and friction."""

from math import pi

import numpy as np
import pytest

from buildlog.physics.engines import cycle


def test_best_mixture_lies_where_the_sources_say():
    """Lambda 0.856 by the fit to Stone chapter 4 (secondary); other opened pages: 0.85 to 0.91."""
    grid = np.linspace(0.75, 1.05, 3001)
    assert grid[np.argmax(cycle.mixture_factor(grid))] == pytest.approx(0.856, abs=0.001)


@pytest.mark.parametrize(
    ("lambda_", "factor"), [(0.75, 0.969), (0.80, 0.992), (0.90, 0.996), (0.95, 0.985), (1, 0.968)]
)
def test_mixture_table(lambda_, factor):
    """Computed beforehand from the fit to Stone chapter 4 (secondary)."""
    assert cycle.mixture_factor(lambda_) == pytest.approx(factor, abs=6e-4)


@pytest.mark.parametrize(
    ("before", "after", "gamma", "change"),
    [
        (9.4, 9.8, 1.40, 0.0114),
        (9.4, 9.8, 1.27, 0.0135),
        (9.8, 11.0, 1.40, 0.0303),
        (9.8, 11.0, 1.27, 0.0360),
        (9.8, 8.5, 1.40, -0.0393),
        (9.8, 8.5, 1.27, -0.0460),
    ],
)
def test_fuel_air_exponent(before, after, gamma, change):
    """Computed from the exponent of Heywood section 5.5 (from memory)."""
    ratio = cycle.compression_factor(after, gamma) / cycle.compression_factor(before, gamma)
    assert ratio - 1 == pytest.approx(change, abs=1e-4)


def test_otto_efficiency_of_the_worked_examples():
    """Thermodynamics companion, examples 13.14 and 13.15 (opened): 56.5 and 58.5 %."""
    assert cycle.compression_factor(8.0, 1.4) == pytest.approx(0.565, abs=5e-4)
    assert cycle.compression_factor(9.0, 1.4) == pytest.approx(0.585, abs=5e-4)


def test_residual_term_in_its_limits():
    """1 at equal pressures; against a perfect vacuum in the exhaust the clearance volume adds
    1/(gamma (r-1)); it falls as back pressure rises."""
    assert cycle.residual_factor(1e5, 1e5, 9.0) == 1.0
    assert cycle.residual_factor(0.0, 1e5, 9.0) == pytest.approx(1 + 1 / (1.35 * 8))
    falling = cycle.residual_factor(np.linspace(0.5e5, 2e5, 50), np.array(1e5), np.array(9.0))
    assert (np.diff(falling) < 0).all()


def test_back_pressure_slope_of_the_reference():
    """Loss for 1 kPa at 96 kPa, r 9.8: part of an own estimate of -0.22 % per kPa (computed)."""
    one = cycle.residual_factor(97e3, 96e3, 9.8) - cycle.residual_factor(96e3, 96e3, 9.8)
    assert one == pytest.approx(-1e3 / 96e3 / (1.35 * 8.8), rel=1e-9)


@pytest.mark.parametrize(
    ("rpm", "bar"),
    [(1000, 1.17), (2000, 1.47), (3000, 1.87), (4000, 2.37), (5000, 2.97), (6000, 3.67)],
)
def test_motoring_friction_table(rpm, bar):
    """Heywood chapter 13 after Barnes-Moss (secondary), computed."""
    assert cycle.motoring_friction(rpm * pi / 30) / 1e5 == pytest.approx(bar, abs=1e-9)


def test_spark_costs_nothing_at_best_and_grows_with_the_square():
    assert cycle.spark_factor(0.0, 0.045) == 1.0
    five, ten = (1 - cycle.spark_factor(d * pi / 180, 0.045) for d in (5, 10))
    assert ten == pytest.approx(4 * five)


def test_typical_curve_peaks_at_its_rated_point():
    omega = np.linspace(200, 700, 2001)
    power = cycle.typical_full_load_power(omega, 100e3, 600.0)
    assert power.max() == pytest.approx(100e3)
    assert omega[np.argmax(power)] == pytest.approx(600, abs=0.5)
    with pytest.raises(ValueError, match="rated power and speed must be above zero"):
        cycle.typical_full_load_power(omega, 0.0, 600.0)
