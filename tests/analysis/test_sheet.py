"""A session's sheet: curves, groups, scatter, peaks, and what a person should know."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from buildlog.analysis.pulls.sheet import Sheet
from buildlog.analysis.pulls.sheet_work import sheet
from buildlog.errors import InvalidInput
from buildlog.records.session import Session
from tests.builders import SESSION, make_configuration, make_session, make_sheet, power_shape

ROAD = {
    "column": [
        {"channel": "road_speed", "name": "n", "unit": "km/h"},
        {"channel": "power", "name": "P", "unit": "kW"},
    ]
}
ON_ROAD: dict[str, Any] = {
    "rpm": (60, 210),
    "step": 0.5,
    "shape": lambda v: np.asarray((v / 180 * np.exp(1 - v / 180)) ** 2),
}


def codes(result: Sheet) -> set[str]:
    return {finding.code for finding in result.findings}


def test_peak_and_place_of_a_known_curve() -> None:
    result = make_sheet([100_000, 100_000, 100_000])
    assert result.kept is not None
    assert result.kept.peak_power.value == pytest.approx(100_000, rel=1e-3)
    assert result.kept.peak_power.at == pytest.approx(5500, abs=30)
    assert not result.kept.peak_power.at_edge
    assert result.at == "wheels"
    assert codes(result) == set()


def test_the_peak_is_not_the_largest_noisy_sample() -> None:
    session, files = make_session([100_000], noise=0.01)
    largest = max(float(row.split(b",")[1]) for row in files["pull-1.csv"].split()[1:])
    result = sheet("visit", session, files, make_configuration())
    assert result.kept is not None
    assert result.kept.peak_power.value < 1000 * largest
    assert result.kept.peak_power.value == pytest.approx(100_000, rel=0.006)


def test_mean_curve_is_the_curve_it_was_made_from() -> None:
    result = make_sheet([99_000, 101_000])
    assert result.kept is not None
    inside = (result.grid > 2200) & (result.grid < 6100)
    want = 100_000 * power_shape(result.grid)
    np.testing.assert_allclose(result.kept.mean[inside], want[inside], rtol=2e-3)


def test_torque_is_power_over_speed_and_stands_at_its_own_place() -> None:
    result = make_sheet([100_000])
    assert result.kept is not None
    assert result.kept.torque is not None
    assert result.kept.peak_torque is not None
    # (x e^(1-x))^2 / x is largest where x = 1/2
    assert result.kept.peak_torque.at == pytest.approx(2750, abs=40)
    omega = result.kept.peak_torque.at * math.pi / 30
    power = 100_000 * float(power_shape(np.array([result.kept.peak_torque.at]))[0])
    assert result.kept.peak_torque.value == pytest.approx(power / omega, rel=2e-3)


@pytest.mark.parametrize("step", [5.0, 50.0, 100.0, 250.0, 500.0])
def test_rows_near_and_far_apart_give_one_peak(step: float) -> None:
    result = make_sheet([100_000], step=step, noise=0.0)
    assert result.kept is not None
    assert result.kept.peak_power.value == pytest.approx(100_000, rel=3e-3)
    assert np.isfinite(result.kept.mean).all()
    assert ("coarse-rows" in codes(result)) is (step >= 100)


def test_groups_by_calibration_and_by_quick_change() -> None:
    pulls = [
        {"calibration": "A"},
        {"calibration": "A"},
        {"calibration": "B", "keep": True},
        {"calibration": "B", "change": {"exhaust.pipe_diameter": "63 mm"}},
    ]
    result = make_sheet([100_000, 101_000, 104_000, 105_000], pulls=pulls)
    keys = ["A", "B", "B, exhaust.pipe_diameter = 63 mm"]
    assert [group.key for group in result.groups] == keys
    assert [group.pulls for group in result.groups] == [2, 1, 1]
    assert result.kept is not None
    assert result.kept.key == "B"
    assert (result.scatter.dof, result.scatter.basis) == (1, "measured")


def test_without_a_mark_the_last_group_is_the_one_that_stays() -> None:
    result = make_sheet([100_000, 101_000], pulls=[{"calibration": "A"}, {"calibration": "B"}])
    assert result.kept is not None
    assert result.kept.key == "B"


def test_a_single_pull_takes_the_typical_scatter() -> None:
    result = make_sheet([100_000])
    assert (result.scatter.s, result.scatter.basis) == (0.01, "typical")


def test_a_pull_that_does_not_count_is_kept_apart() -> None:
    pulls = [{}, {"use": False, "reason": "lifted early"}]
    result = make_sheet([100_000, 80_000], pulls=pulls)
    assert [curve.name for curve in result.curves] == ["pull-1.csv"]
    assert [curve.name for curve in result.unused] == ["pull-2.csv"]


def test_a_pull_that_cannot_be_read_is_a_finding_with_its_place() -> None:
    session, files = make_session([100_000, 100_500])
    files["pull-2.csv"] = b"n,P\n2000,abc\n"
    result = sheet("visit", session, files, make_configuration())
    (found,) = [f for f in result.findings if f.code == "pull-unreadable"]
    assert found.severity == "error"
    assert "pull-2.csv" in (found.where or "")
    assert result.kept is not None
    assert result.kept.pulls == 1


@pytest.mark.parametrize("data", [b"", b"\n\n", b"n,P\n"])
def test_an_empty_file_is_an_error_with_its_name(data: bytes) -> None:
    session, _ = make_session([100_000])
    with pytest.raises(InvalidInput) as refused:
        sheet("visit", session, {"pull-1.csv": data}, make_configuration())
    assert "pull-1.csv" in str(refused.value)
    assert refused.value.hint


def test_a_missing_file_is_an_error_that_says_what_to_do() -> None:
    session, _ = make_session([100_000])
    with pytest.raises(InvalidInput, match=r"the raw file pull-1\.csv is missing") as refused:
        sheet("visit", session, {}, make_configuration())
    assert "use = false" in str(refused.value.hint)


def test_an_unknown_standard_is_refused() -> None:
    with pytest.raises(InvalidInput, match="furlongs"):
        make_sheet([100_000], standard="furlongs")


# SAE J1349's factor for spark ignition, worked out by hand from the formula of
# standards.md 1.2 (secondary): 1.18 (99/p_dry) sqrt(T/298) - 0.18.
def test_correction_by_the_formula() -> None:
    air = {"temperature": "35 degC", "pressure": "95 kPa", "humidity": "0 percent"}
    result = make_sheet([100_000], {"air": air}, noise=0.0)
    observed = make_sheet([100_000], {"air": air}, noise=0.0, standard="none")
    want = 1.18 * (99 / 95) * math.sqrt(308.15 / 298.15) - 0.18
    assert result.kept is not None
    assert observed.kept is not None
    ratio = result.kept.peak_power.value / observed.kept.peak_power.value
    assert ratio == pytest.approx(want, rel=2e-3)
    assert result.standard == "SAE J1349"
    assert observed.standard == "none"


def test_a_correction_already_inside_is_undone_first() -> None:
    air = {"temperature": "35 degC", "pressure": "95 kPa", "humidity": "0 percent"}
    inside = {"air": air, "standard_applied": "60F-29.92-dry"}
    result = make_sheet([100_000], inside, noise=0.0, standard="60F-29.92-dry")
    assert result.kept is not None
    assert result.kept.peak_power.value == pytest.approx(100_000, rel=1e-3)
    undone = make_sheet([100_000], inside, noise=0.0, standard="none")
    assert undone.kept is not None
    assert undone.kept.peak_power.value < 97_000


def test_without_air_the_numbers_stay_as_they_are_and_it_is_said() -> None:
    result = make_sheet([100_000], {"air": None})
    assert result.standard == "none"
    (found,) = result.findings
    assert found.code == "standard-not-reached"
    assert "air.temperature, air.pressure, air.humidity missing" in found.text


def test_an_unknown_correction_stays_unknown() -> None:
    result = make_sheet([100_000], {"standard_applied": None})
    assert result.standard == "unknown"
    assert "standard-not-reached" in codes(result)


def test_air_outside_the_standards_range_is_said() -> None:
    air = {"temperature": "50 degC", "pressure": "80 kPa", "humidity": "10 percent"}
    result = make_sheet([100_000], {"air": air, "altitude": "1900 m"})
    assert "outside-standard" in codes(result)


def test_a_barometer_reduced_to_sea_level_is_caught() -> None:
    air = {"temperature": "25 degC", "pressure": "101.3 kPa", "humidity": "30 percent"}
    result = make_sheet([100_000], {"air": air, "altitude": "1600 m"})
    assert "barometer" in codes(result)


def test_no_correction_of_an_electric_motor() -> None:
    car = make_configuration({"car.power_source": "electric"})
    result = make_sheet([100_000], configuration=car)
    assert result.standard == "none"
    assert "standard-not-reached" not in codes(result)  # nobody corrected anything
    corrected = make_sheet([100_000], {"standard_applied": "SAE J1349"}, configuration=car)
    (found,) = (one for one in corrected.findings if one.code == "standard-not-reached")
    assert "electric motor needs no correction" in found.text


def test_a_pressure_charged_engine_says_what_holds_its_boost() -> None:
    car = make_configuration(
        {"induction.kind": "turbocharger", "induction.boost.control": "closed-loop-absolute"}
    )
    result = make_sheet([100_000], configuration=car)
    (found,) = [f for f in result.findings if f.code == "pressure-charged"]
    assert found.severity == "caution"
    assert "observed power is the better figure" in found.text


def test_engine_speed_is_recovered_from_road_speed_gear_and_tyre() -> None:
    result = make_sheet([100_000], ROAD, **ON_ROAD)
    assert result.axis == "engine_speed"
    assert result.kept is not None
    # 180 km/h; fourth gear 1.0, final drive 3.7; 205/55 R16: D = 16 in + 2 x 0.55 x 205 mm,
    # C = pi D / 1.032 (standards.md, ETRTO [secondary])
    diameter = 16 * 0.0254 + 2 * 0.55 * 0.205
    turns = 180 / 3.6 / (math.pi * diameter / 1.032) * 3.7 * 60
    assert result.kept.peak_power.at == pytest.approx(turns, rel=0.02)
    assert "engine-speed-recovered" in codes(result)


def test_with_a_converter_that_is_not_locked_torque_is_unknown() -> None:
    car = make_configuration({"gearbox.kind": "automatic"})
    result = make_sheet([100_000], ROAD, configuration=car, **ON_ROAD)
    assert result.axis == "road_speed"
    assert result.kept is not None
    assert result.kept.torque is None
    assert result.torque_reason == "converter not locked"
    locked = make_sheet([100_000], ROAD | {"lockup": "locked"}, configuration=car, **ON_ROAD)
    assert locked.axis == "engine_speed"


def test_nothing_is_said_of_a_converter_where_the_gearbox_is_not_known() -> None:
    unknown = make_configuration({"gearbox.kind": None})
    result = make_sheet([100_000], ROAD, configuration=unknown, **ON_ROAD)
    assert result.torque_reason == "gearbox.kind is missing, so a converter may have slipped"
    electric = make_configuration({"gearbox.kind": None, "car.power_source": "electric"})
    result = make_sheet([100_000], ROAD, configuration=electric, **ON_ROAD)
    assert "converter" not in (result.torque_reason or "")


@pytest.mark.parametrize(
    ("gone", "missing"),
    [
        ({"gearbox.ratios": None}, "gearbox.ratios"),
        ({"final_drive.ratio": None}, "final_drive.ratio"),
        ({"tyres.size": None}, "tyres.size"),
    ],
)
def test_what_is_missing_for_engine_speed_is_named(gone: dict[str, Any], missing: str) -> None:
    result = make_sheet([100_000], ROAD, configuration=make_configuration(gone), **ON_ROAD)
    assert result.torque_reason == f"cannot be recovered: {missing} missing"
    assert "torque-unknown" in codes(result)


def test_a_measured_circumference_wins_over_the_size() -> None:
    car = make_configuration({"tyres.rolling_circumference": "2.00 m"})
    result = make_sheet([100_000], ROAD, configuration=car, **ON_ROAD)
    assert result.kept is not None
    assert result.kept.peak_power.at == pytest.approx(180 / 3.6 / 2.0 * 3.7 * 60, rel=0.02)


@pytest.mark.parametrize(
    ("peaks", "said"),
    [
        ([100_000, 98_500, 97_000], True),  # a steady fall of three per cent
        ([100_000, 99_950, 99_900], False),  # steady, but no larger than the pulls' own noise
        ([100_000, 97_000, 99_500], False),  # no trend
        ([97_000, 98_500, 100_000], False),  # rising
        ([100_000, 97_000], False),  # two pulls are no trend
    ],
)
def test_heat_soak_only_beyond_twice_the_pulls_own_scatter(peaks: list[float], said: bool) -> None:
    result = make_sheet(peaks, noise=0.002)
    assert ("heat-soak" in codes(result)) is said


def test_an_outlying_pull_is_named_and_kept() -> None:
    result = make_sheet([100_000, 100_200, 99_900, 100_100, 108_000])
    (found,) = [f for f in result.findings if f.code == "outlying-pull"]
    assert "pull-5.csv" in found.text
    assert result.kept is not None
    assert result.kept.pulls == 5


def test_one_recording_read_twice_is_said() -> None:
    session, files = make_session([100_000, 100_000, 101_000])
    files["pull-2.csv"] = files["pull-1.csv"]
    result = sheet("visit", session, files, make_configuration())
    assert "copied-pull" in codes(result)


def test_slip_is_seen_in_the_ratio_of_the_speeds() -> None:
    n = np.arange(2000, 6301, 10.0)
    slipping = n / 30 * np.where(n > 4000, 1 - 0.04 * (n - 4000) / 2300, 1.0)
    power = 100 * power_shape(n)
    rows = [f"{a:.0f},{v:.2f},{p:.3f}" for a, v, p in zip(n, slipping, power, strict=True)]
    columns = [*SESSION["column"], {"channel": "road_speed", "name": "v", "unit": "km/h"}]
    session = Session.model_validate(
        {**SESSION, "column": columns, "pull": [{"file": "pull-1.csv"}]}
    )
    data = "\n".join(["n,v,P", *rows]).encode()
    assert "slip" in codes(sheet("visit", session, {"pull-1.csv": data}, make_configuration()))


def test_only_a_printout_has_no_curve_and_no_scatter() -> None:
    values = {**SESSION, "stated": [{"quantity": "power", "value": "100 kW", "at": "5500 rpm"}]}
    result = sheet("printout", Session.model_validate(values), {}, make_configuration())
    assert result.kept is None
    assert result.groups == ()
