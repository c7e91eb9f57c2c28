"""The measured difference: what the scatter allows one to say, and what is not alike."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy import stats

from buildlog.analysis.pulls.measured import Measured, measured
from buildlog.analysis.pulls.sheet import Sheet
from tests.builders import make_sheet

LATER = {"date": __import__("datetime").date(2026, 5, 2)}
QUIET = {"noise": 0.0}


def compare(one: Sheet, other: Sheet) -> Measured:
    result = measured(one, other)
    assert isinstance(result, Measured), result
    return result


def visit(peaks: list[float], changes: dict[str, Any] | None = None, **more: Any) -> Sheet:
    more = {"name": f"visit-{peaks[0]}"} | more
    return make_sheet(peaks, changes, **more)


def test_two_pulls_one_per_cent_apart_are_not_called_different() -> None:
    result = compare(visit([100_000]), visit([101_000]))
    assert result.scatter.basis == "typical"
    assert result.power.peak_delta == pytest.approx(1000, abs=60)
    # 1.96 * 1 % * sqrt(2), the typical scatter of single pulls (common practice, no source)
    assert result.power.half_width_95 == pytest.approx(0.0277 * 100_500, rel=0.01)
    assert not result.power.beyond_scatter
    assert not result.power.mean_beyond_scatter


@pytest.mark.parametrize("gain", [1000.0, 7000.0, -5000.0])
def test_the_largest_difference_is_the_largest_difference_of_power(gain: float) -> None:
    """No place gains more power than the one that is named, and the peaks' own never more."""
    result = compare(visit([100_000] * 3), visit([100_000 + gain] * 3))
    largest = result.largest_gain if gain > 0 else result.largest_loss
    assert largest is not None
    assert abs(largest.value) == pytest.approx(float(np.max(np.abs(result.delta))))
    assert abs(largest.value) >= 0.99 * abs(result.power.peak_delta)
    at = int(np.argmax(np.abs(result.delta)))
    assert largest.relative == pytest.approx(float(result.delta[at] / result.mean_from[at]))


def test_three_and_three_pulls_seven_per_cent_apart_on_one_day_are() -> None:
    result = compare(visit([99_500, 100_000, 100_500]), visit([106_500, 107_000, 107_500]))
    assert result.reasons == ()
    assert result.power.peak_delta == pytest.approx(7000, rel=0.02)
    assert result.power.beyond_scatter
    assert result.power.mean_beyond_scatter
    assert result.largest_gain is not None
    assert result.largest_gain.shown is True


def test_one_and_a_half_per_cent_on_another_day_is_not_shown() -> None:
    one = visit([99_900, 100_000, 100_100])
    other = visit([101_400, 101_500, 101_600], LATER)
    result = compare(one, other)
    assert [part.key for part in result.parts] == ["another day"]
    assert result.power.peak_delta == pytest.approx(1500, rel=0.05)
    assert not result.power.beyond_scatter
    # The same gain within one visit is larger than its scatter.
    assert compare(one, visit([101_400, 101_500, 101_600])).power.beyond_scatter


@pytest.mark.parametrize("n", [2, 3, 5])
def test_equal_numbers_of_pulls_reproduce_students_pooled_t(n: int) -> None:
    """Scaled copies of one noiseless curve: the scatter is that of their levels alone.

    Reference: scipy.stats.ttest_ind with pooled variance on the logarithms of the levels.
    """
    rng = np.random.default_rng(n)
    first = 100_000 * np.exp(0.004 * rng.standard_normal(n))
    second = 100_300 * np.exp(0.004 * rng.standard_normal(n))
    result = compare(visit([*first], **QUIET), visit([*second], **QUIET))
    tested = stats.ttest_ind(np.log(second), np.log(first), equal_var=True)
    low, high = tested.confidence_interval(0.95)
    relative = result.power.half_width_95 / result.power.peak_from.value
    assert relative == pytest.approx((high - low) / 2, rel=0.01)
    assert result.scatter.dof == tested.df == 2 * (n - 1)
    assert result.power.beyond_scatter is bool(tested.pvalue < 0.05)


def test_the_interval_is_the_stated_formula() -> None:
    """sqrt((t s sqrt(1/n1 + 1/n2))^2 + (1.96 u)^2), u in quadrature (physics.md, from memory)."""
    one = visit([99_000, 100_000, 101_000], **QUIET)
    other = visit([100_000, 101_000], LATER | {"gear": 3}, **QUIET)
    result = compare(one, other)
    levels = [np.array([99, 100, 101]) / 100, np.array([100, 101]) / 100.5]
    s = math.sqrt(sum(((level - 1) ** 2).sum() for level in levels) / 3)
    u = math.hypot(0.015, 0.01)
    t = stats.t.ppf(0.975, 3)
    want = math.hypot(t * s * math.sqrt(1 / 3 + 1 / 2), stats.norm.ppf(0.975) * u)
    assert result.power.half_width_95 / result.power.peak_from.value == pytest.approx(
        want, rel=5e-3
    )


def test_band_and_peak_agree_where_the_gain_is_large() -> None:
    """A gain of half: the band at the peak's place is the peak's own half-width."""
    one = visit([99_500, 100_000, 100_500])
    other = visit([149_500, 150_000, 150_500], LATER)
    result = compare(one, other)
    at = int(np.argmin(np.abs(result.grid - 5500)))
    assert result.half_width[at] == pytest.approx(result.power.half_width_95, rel=2e-3)
    np.testing.assert_allclose(result.delta, result.mean_to - result.mean_from)


def test_forth_and_back_are_mirrors() -> None:
    one, other = visit([99_500, 100_500]), visit([107_000, 106_000], LATER)
    forth, back = compare(one, other), compare(other, one)
    assert forth.power.peak_delta == pytest.approx(-back.power.peak_delta)
    assert forth.power.half_width_95 == pytest.approx(back.power.half_width_95)
    assert forth.reasons == back.reasons


NOT_ALIKE: list[tuple[dict[str, Any], list[str], str]] = [
    (LATER, ["another day"], "two days on dyno R1"),
    ({"dyno.id": "R2"}, ["another dyno"], "two dynos (R1, R2)"),
    ({"dyno": None}, ["another dyno"], "a dyno is not named, so it counts as another one"),
    ({"gear": 3}, ["another gear"], "gears 4 and 3"),
    ({"gear": None}, ["another gear"], "gears 4 and not recorded"),
    (
        {"strapping": None},
        ["tire pressure or strapping"],
        "tire pressure or strapping not recorded",
    ),
    (
        {"tyre_pressure": None, **LATER},
        ["another day", "tire pressure or strapping"],
        "tire pressure or strapping not recorded",
    ),
]


@pytest.mark.parametrize(("changes", "keys", "reason"), NOT_ALIKE)
def test_what_is_not_alike_is_said_and_widens(changes, keys, reason) -> None:
    alike = compare(visit([100_000, 100_400]), visit([101_000, 101_400]))
    result = compare(visit([100_000, 100_400]), visit([101_000, 101_400], changes))
    assert [part.key for part in result.parts] == keys
    assert reason in result.reasons
    assert result.comparable
    assert result.power.half_width_95 > alike.power.half_width_95


def test_groups_of_one_visit_are_alike_even_on_a_dyno_without_a_name() -> None:
    pulls = [{"calibration": "A"}] * 2 + [{"calibration": "B"}] * 2
    both = visit([100_000, 100_400, 103_000, 103_400], {"dyno": None}, pulls=pulls)
    result = measured(both, both, (both.groups[0], both.groups[1]))
    assert isinstance(result, Measured)
    assert result.reasons == ()
    assert result.power.beyond_scatter


def test_a_pull_in_another_gear_counts_as_another_gear() -> None:
    pulls = [{"calibration": "A"}] * 2 + [{"calibration": "B", "gear": 3}] * 2
    both = visit([100_000, 100_400, 103_000, 103_400], pulls=pulls)
    result = measured(both, both, (both.groups[0], both.groups[1]))
    assert isinstance(result, Measured)
    assert result.reasons == ("gears 4 and 3",)


def test_nitrous_on_one_side_is_not_comparable() -> None:
    result = compare(visit([100_000]), visit([130_000], pulls=[{"nitrous": "on"}]))
    assert not result.comparable
    assert result.reasons == ("nitrous used on one side only",)


def test_two_standards_are_not_comparable() -> None:
    """Numbers already corrected by an unknown rule beside observed ones."""
    result = compare(visit([100_000]), visit([100_000], {"standard_applied": "unknown"}))
    assert not result.comparable
    assert result.reasons == ("standards SAE J1349 and unknown",)


def test_the_same_unknown_correction_can_be_compared_and_is_said() -> None:
    unknown = {"standard_applied": "unknown"}
    result = compare(visit([100_000], unknown), visit([101_000], unknown))
    assert result.comparable
    assert result.reasons == ("it is not known which correction is inside either",)


def test_crank_and_wheel_are_never_mixed() -> None:
    columns = [
        {"channel": "engine_speed", "name": "n", "unit": "rpm"},
        {"channel": "power", "name": "P", "unit": "kW", "at": "crank"},
    ]
    result = compare(visit([100_000]), visit([118_000], {"column": columns}))
    assert not result.comparable
    assert result.reasons == ("measured at the wheels and at the crank",)


def test_only_stated_values_give_a_sentence() -> None:
    stated = {"pull": [], "stated": [{"quantity": "power", "value": "100 kW"}]}
    from buildlog.analysis.pulls.sheet_work import sheet
    from buildlog.records.session import Session
    from tests.builders import SESSION, make_configuration

    session = Session.model_validate({**SESSION, **stated})
    other = sheet("printout", session, {}, make_configuration())
    said = measured(visit([100_000]), other)
    assert said == "declared, scatter not known: only stated values exist on one side"


def test_too_little_range_in_common_gives_a_sentence() -> None:
    low = visit([100_000], rpm=(2000, 3600))
    high = visit([100_500], rpm=(3500, 6300))
    assert measured(low, high) == "the two have too little range in common"


def test_torque_is_power_over_engine_speed() -> None:
    result = compare(visit([100_000]), visit([110_000]))
    assert result.torque is not None
    top = result.torque.peak_to
    omega = top.at * math.pi / 30
    power = np.interp(top.at, result.grid, result.mean_to)
    assert top.value == pytest.approx(power / omega, rel=1e-3)


def test_recovered_engine_speed_widens_torque_and_band() -> None:
    road = {
        "column": [
            {"channel": "road_speed", "name": "n", "unit": "km/h"},
            {"channel": "power", "name": "P", "unit": "kW"},
        ]
    }

    def fast(speed: np.ndarray) -> np.ndarray:
        return np.asarray((speed / 180 * np.exp(1 - speed / 180)) ** 2)

    one = visit([100_000, 100_400], road, rpm=(60, 210), step=0.5, shape=fast)
    assert one.axis == "engine_speed"
    assert {c.speed.state for c in one.curves} == {"recovered"}
    other = visit([107_000, 107_400], road, rpm=(60, 210), step=0.5, shape=fast)
    result = compare(one, other)
    assert result.torque is not None
    power = result.power.half_width_95 / result.power.peak_from.value
    torque = result.torque.half_width_95 / result.torque.peak_from.value
    assert torque > power
