"""Engine speed recovered from road speed, and slip, against rolling kinematics."""

from __future__ import annotations

import math

import numpy as np
import pytest

from buildlog.physics.traces.enginespeed import (
    from_known_point,
    from_ratios,
    ratio_drift,
)

RPM = math.pi / 30
MPH = 0.44704


def test_the_inch_and_mile_form_used_in_the_trade() -> None:
    # rpm = mph * ratio * 336.135/D(in) * k; 336.135 = 63360/(60 pi); k = 1.032 from 70 cars
    # of 1990 [computed from data]. Example: D 652.3 mm, 60 mph, 0.68 x 3.55 -> 1956 rpm.
    diameter = 0.6523
    ours = from_ratios([60 * MPH], 0.68, 3.55, math.pi * diameter / 1.032)
    inches = diameter / 0.0254
    assert ours.omega[0] / RPM == pytest.approx(
        60 * 0.68 * 3.55 * 336.135 / inches * 1.032, rel=1e-4
    )
    assert ours.omega[0] / RPM == pytest.approx(1956, abs=1)


def test_6000_rpm_in_direct_drive_is_125_mph() -> None:
    # Worked example of the same table [computed], with k = 1.032 in it.
    rolling = from_ratios([125.1 * MPH], 1.0, 3.55, math.pi * 0.6523 / 1.032)
    free = from_ratios([125.1 * MPH], 1.0, 3.55, math.pi * 0.6523)
    assert rolling.omega[0] / RPM == pytest.approx(6000, abs=5)
    assert rolling.omega[0] / free.omega[0] == pytest.approx(1.032)


def test_slip_raises_engine_speed_and_uncertainties_add_in_quadrature() -> None:
    plain = from_ratios([30.0], 1.0, 4.0, 2.0, u_circumference=0.003, u_slip=0.004, u_growth=0.0)
    assert plain.u == pytest.approx(0.005)
    slipping = from_ratios([30.0], 1.0, 4.0, 2.0, slip=0.02)
    assert slipping.omega[0] == pytest.approx(plain.omega[0] / 0.98)


def test_a_known_point_needs_neither_tyre_nor_ratio() -> None:
    v = np.linspace(20, 60, 50)
    true = from_ratios(v, 1.0, 3.9, 1.95)
    ours = from_known_point(v, 40.0, float(np.interp(40.0, v, true.omega)), u_reading=50 / 5000)
    assert np.allclose(ours.omega, true.omega, rtol=1e-12)
    assert ours.u < true.u


def test_slip_is_seen_and_a_locked_drive_is_not_accused() -> None:
    rng = np.random.default_rng(3)
    v = np.linspace(20, 55, 500) + rng.normal(0, 0.1, 500)
    locked = ratio_drift(12 * v + rng.normal(0, 2, 500), v)
    assert not locked.slip
    assert locked.ratio == pytest.approx(12, rel=1e-3)
    torque_shape = np.clip((v - 30) / 10, 0, 1)
    slipping = ratio_drift(12 * v * (1 + 0.035 * torque_shape), v)
    assert slipping.slip
    assert slipping.change == pytest.approx(0.035, abs=0.003)
    passing = ratio_drift(12 * v * (1 + 0.04 * np.exp(-(((v - 38) / 4) ** 2))), v)
    assert passing.slip  # slip in the middle only, nothing between the two ends
    assert abs(passing.change) < 0.005
    wild = 12 * v
    wild[::60] *= 2
    assert not ratio_drift(wild, v).slip


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: from_ratios([1.0], 0.0, 1.0, 1.0), "above zero"),
        (lambda: from_ratios([1.0], 1.0, 1.0, 1.0, u_slip=-0.1), "below zero"),
        (lambda: from_known_point([1.0], 0.0, 100.0), "above zero"),
        (lambda: ratio_drift([1.0] * 5, [1.0] * 5), "20 usable"),
        (lambda: ratio_drift([1.0] * 5, [1.0] * 4), "rows"),
    ],
)
def test_nonsense_is_a_sentence(call, words) -> None:
    with pytest.raises(ValueError, match=words):
        call()
