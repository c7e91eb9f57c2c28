"""Plateaus: clipping, settings, limiters, and the sign of a relief opening."""

from __future__ import annotations

import numpy as np
import pytest

from buildlog.physics.numerics.plateaus import clipped, relief_sign, speed_limiter

RPM = np.pi / 30
AXIS = np.linspace(2000, 6500, 600) * RPM


def pressure(seed: int = 1, noise: float = 800.0) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return np.interp(AXIS / RPM, [2000, 3500, 6500], [110e3, 230e3, 280e3]) + rng.normal(
        0, noise, 600
    )


def test_a_one_byte_pressure_channel_clips_at_255_kpa() -> None:
    # SAE J1979 service 01: manifold pressure in one byte ends at 255 kPa [secondary].
    seen = np.minimum(np.round(pressure() / 1000) * 1000, 255e3)
    found = clipped(AXIS, seen)
    assert found is not None
    assert found.value == 255e3
    assert "manifold" in (found.range_name or "")
    assert 4800 < found.start / RPM < 5200
    assert found.end / RPM == pytest.approx(6500)


def test_an_unnamed_sensor_end_is_clipped_too() -> None:
    found = clipped(AXIS, np.minimum(pressure(), 241.3e3))
    assert found is not None
    assert found.range_name is None
    assert found.value == 241.3e3


def test_what_is_not_clipped() -> None:
    assert clipped(AXIS, pressure()) is None
    assert clipped(AXIS, np.round(pressure() / 1000) * 1000) is None
    # held by a boost control: level, but with its noise
    rng = np.random.default_rng(2)
    held = np.minimum(pressure(noise=0), 220e3) + rng.normal(0, 900, 600)
    assert clipped(AXIS, held) is None
    # the same in coarse steps repeats values everywhere
    assert clipped(AXIS, np.round(held / 5e3) * 5e3) is None
    # one tall spike repeated a few rows
    spiked = pressure()
    spiked[300:304] = 400e3
    assert clipped(AXIS, spiked) is None


def test_a_speed_limiter_is_told_from_a_pull_that_simply_ends() -> None:
    t = np.arange(0, 12, 0.02)
    rng = np.random.default_rng(4)
    rising = np.minimum(2000 + 480 * t, 6600) + rng.normal(0, 8, t.size)
    limited = rising + np.where(t > 9.6, 30 * np.sin(2 * np.pi * 7 * t), 0)
    found = speed_limiter(t, limited * RPM)
    assert found is not None
    assert found.value / RPM == pytest.approx(6600, abs=30)
    assert found.start == pytest.approx(9.5, abs=0.3)
    turned = np.interp(t, [0, 9.5, 12], [2000, 6600, 4000]) + rng.normal(0, 8, t.size)
    assert speed_limiter(t, turned * RPM) is None
    plain = 2000 + 380 * t + rng.normal(0, 8, t.size)
    assert speed_limiter(t, plain * RPM) is None


def test_a_relief_opening_near_its_setting() -> None:
    # Common practice, no source: a short sag high in the range, power climbs on after it.
    grid = np.arange(2000, 6550, 50.0)
    dip = 1 - 0.03 * np.exp(-4 * np.log(2) * ((grid - 5500) / 250) ** 2)
    power = 40 * grid * dip
    boost = np.interp(grid, [2000, 6500], [30e3, 60e3])
    setting = float(np.interp(5500, grid, boost)) * 1.03
    args = (grid * RPM, power, boost)
    found = relief_sign(*args, setting, 5500 * RPM, 250 * RPM)
    assert found is not None
    assert found.climb > 0
    assert found.ratio == pytest.approx(1 / 1.03)
    assert relief_sign(*args, setting * 1.3, 5500 * RPM, 250 * RPM) is None  # not near it
    assert relief_sign(*args, 35e3, 2800 * RPM, 250 * RPM) is None  # low in the range
    fading = np.where(grid > 5500, power * (1 - (grid - 5500) / 3000), power)
    assert relief_sign(grid * RPM, fading, boost, setting, 5500 * RPM, 250 * RPM) is None


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: clipped(AXIS, np.full(600, 5.0)), "stuck"),
        (lambda: clipped(AXIS, np.full(600, np.nan)), "no numbers"),
        (lambda: clipped(AXIS, [1.0, 2.0]), "rows"),
    ],
)
def test_nonsense_is_a_sentence(call, words) -> None:
    with pytest.raises(ValueError, match=words):
        call()
