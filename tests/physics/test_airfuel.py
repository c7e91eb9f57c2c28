"""Air-fuel: lambda whatever the fuel, regions, and what counts as sustained."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.ndimage import minimum_filter1d

from buildlog.physics.gases.airfuel import (
    HOLD_SPEED,
    USUAL_RANGES,
    by_region,
    judge,
    lambda_from_ratio,
    load_regions,
    sustained,
)

RPM = np.pi / 30
ATM = 101325.0


def test_lambda_0_85_on_e85_is_not_called_lean() -> None:
    # E85's own ratio is near 9.8, but the instrument multiplies lambda by 14.7.
    shown = 0.85 * 14.7
    lam = float(lambda_from_ratio([shown])[0])
    assert lam == pytest.approx(0.85, abs=1e-12)
    assert judge(lam, USUAL_RANGES["full load unboosted"]).verdict == "within the usual range"
    assert judge(lam, USUAL_RANGES["boosted"]).verdict == "within the usual range"
    assert float(lambda_from_ratio([0.85 * 9.8], 9.8)[0]) == pytest.approx(0.85)


def test_facts_of_the_trade() -> None:
    # Common practice, no source: cruise about 14.5, tip-in in the 13s.
    assert judge(14.5 / 14.7, USUAL_RANGES["cruise"]).verdict == "within the usual range"
    assert judge(13.5 / 14.7, USUAL_RANGES["tip-in"]).verdict == "within the usual range"
    boosted = judge(12.8 / 14.7, USUAL_RANGES["boosted"])
    assert boosted.verdict == "leaner than usual"
    assert boosted.distance == pytest.approx(12.8 / 14.7 - 0.85)
    assert judge(0.75, USUAL_RANGES["boosted"]).verdict == "richer than usual"


def test_regions_from_pressure_and_from_throttle() -> None:
    p = np.array([0.3, 0.7, 0.95, 1.04, 1.3, np.nan]) * ATM
    assert load_regions(manifold_pressure=p).tolist() == [
        "cruise", "part load", "full load unboosted", "full load unboosted", "boosted", "",
    ]  # fmt: skip
    assert load_regions(throttle=[0.2, 0.95, np.nan]).tolist() == [
        "part load", "full load unboosted", "",
    ]  # fmt: skip
    # at 83 kPa ambient, 80 kPa in the manifold is full load
    assert load_regions(manifold_pressure=[80e3], ambient=83e3).tolist() == ["full load unboosted"]


def test_tip_in_is_the_half_second_after_the_throttle_opens() -> None:
    t = np.arange(0, 4, 0.05)
    p = np.interp(t, [0, 1, 1.2, 4], [35e3, 35e3, 75e3, 75e3])
    regions = load_regions(manifold_pressure=p, time=t)
    tip = t[regions == "tip-in"]
    assert tip.min() == pytest.approx(1.05, abs=0.11)
    assert 1.5 <= tip.max() <= 2.0
    assert regions[0] == "cruise"
    assert regions[-1] == "part load"


def test_a_spike_shorter_than_the_hold_is_ignored() -> None:
    t = np.arange(0, 5, 0.05)
    lam = np.full(t.size, 0.83)
    lam[40:43] = 1.10  # 0.15 s
    assert sustained(lam, time=t).value == pytest.approx(0.83)  # type: ignore[union-attr]
    lam[60:68] = 0.90  # 0.35 s
    worst = sustained(lam, time=t)
    assert worst is not None
    assert worst.value == pytest.approx(0.90)
    assert 60 <= worst.first < worst.last <= 67
    lam[80:90] = 0.70
    assert sustained(lam, time=t, leanest=False).value == pytest.approx(0.70)  # type: ignore[union-attr]


def test_200_rpm_counts_even_when_it_takes_less_than_0_3_s() -> None:
    t = np.arange(0, 4, 0.02)
    omega = (2000 + 1000 * t) * RPM
    lam = np.full(t.size, 0.83)
    lam[100:111] = 0.92  # 0.2 s, but 200 rpm
    assert sustained(lam, time=t).value == pytest.approx(0.83)  # type: ignore[union-attr]
    assert sustained(lam, time=t, axis=omega).value == pytest.approx(0.92)  # type: ignore[union-attr]
    assert sustained(lam, axis=omega, hold_axis=2 * HOLD_SPEED).value == pytest.approx(0.83)  # type: ignore[union-attr]


@given(st.integers(1, 40), st.integers(0, 10**6))
def test_against_scipys_sliding_minimum(rows, seed) -> None:
    rng = np.random.default_rng(seed)
    lam = rng.normal(0.85, 0.03, 60)
    ours = sustained(lam, time=np.arange(60.0), hold_time=float(rows))
    size = rows + 1  # a hold of k steps spans k + 1 rows
    theirs = minimum_filter1d(lam, size, mode="constant", cval=-1.0)
    inside = theirs[size // 2 : 60 - (size - 1) // 2] if size > 1 else theirs
    assert ours is not None
    assert ours.value == pytest.approx(inside.max())
    assert ours.last - ours.first == rows


def test_too_short_a_record_sustains_nothing() -> None:
    assert sustained([0.9, 0.9], time=[0.0, 0.1]) is None
    assert sustained([np.nan] * 20, time=np.arange(20.0)) is None


def test_by_region_breaks_holds_at_borders_and_counts_what_it_ignores() -> None:
    t = np.arange(0, 6, 0.05)
    regions = np.where(t < 3, "cruise", "boosted")
    lam = np.where(t < 3, 1.0, 0.82)
    lam[59], lam[60] = 1.2, 1.2  # 0.05 s on each side: never 0.3 s in one region
    lam[100], lam[101] = 0.0, 7.0
    cruise, boosted = by_region(lam, regions, time=t)
    assert (cruise.region, boosted.region) == ("cruise", "boosted")
    assert cruise.leanest is not None
    assert cruise.leanest.value == pytest.approx(1.0)
    assert boosted.leanest is not None
    assert boosted.leanest.value == pytest.approx(0.82)
    assert boosted.ignored == 2
    assert cruise.rows + boosted.rows + 2 == t.size


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: lambda_from_ratio([14.7], 0.0), "stoichiometric"),
        (lambda: load_regions(), "needs manifold pressure"),
        (lambda: sustained([1.0]), "time or engine speed"),
        (lambda: sustained([1.0, 1.0], time=[1.0]), "2 values"),
        (lambda: by_region([1.0], ["cruise", "cruise"]), "1 readings"),
    ],
)
def test_nonsense_is_a_sentence(call, words) -> None:
    with pytest.raises(ValueError, match=words):
        call()
