"""What a sheet says beyond its curves: sags, mixture, plausibility, limits and identities."""

from __future__ import annotations

import datetime as dt
import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildlog.analysis.pulls.air_fuel import mixture
from buildlog.analysis.pulls.measured import Measured, measured
from buildlog.analysis.pulls.sag_report import sag_report
from buildlog.analysis.pulls.sheet import Sheet
from buildlog.analysis.pulls.sheet_report import sheet_report
from buildlog.analysis.pulls.sheet_work import sheet
from buildlog.physics.gases import correction
from buildlog.records.session import Session
from tests.builders import SESSION, changed, make_configuration, make_sheet, power_shape

RPM = math.pi / 30
TURBO = {
    "induction.kind": "turbocharger",
    "induction.boost.target_gauge": "60 kPa",
    "induction.boost.relief_gauge": "65 kPa",
    "calibration.lambda_full_load": 0.80,
}


def rows_of(pulls: int, channels: Any, columns: list[tuple[str, str, str]], **more: Any) -> Any:
    """A session whose pulls log power and more; `channels(n, rng)` gives arrays by name."""
    files, named = {}, [{"file": f"p{i}.csv", **more.get("pull", {})} for i in range(pulls)]
    for i in range(pulls):
        rng = np.random.default_rng(100 + i)
        n = np.arange(2000, 6301, 10.0)
        time = (n - 2000) / 430.0
        values = {"t": time, "n": n, **channels(n, rng)}
        head = ",".join(values)
        body = [",".join(f"{v:.5f}" for v in row) for row in zip(*values.values(), strict=True)]
        files[f"p{i}.csv"] = "\n".join([head, *body, ""]).encode()
    columns = [("time", "t", "s"), ("engine_speed", "n", "rpm"), ("power", "P", "kW"), *columns]
    table = [
        {"channel": c, "name": name, **({"unit": unit} if unit else {})}
        for c, name, unit in columns
    ]
    for column in table:
        column.update(more.get("column", {}).get(column["channel"], {}))
    values = changed(SESSION, more.get("changes", {})) | {"column": table, "pull": named}
    return Session.model_validate(values), files


def worked(session: Session, files: dict[str, bytes], car: dict[str, Any] | None = None) -> Sheet:
    return sheet("visit", session, files, make_configuration(car))


def plain_power(n: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    return 100 * power_shape(n) * (1 + 0.002 * rng.standard_normal(n.size))


def dip(n: np.ndarray, at: float, width: float) -> np.ndarray:
    return np.asarray(0.5 * (1 + np.cos(np.pi * np.clip((n - at) / width, -1, 1))))


def sagging(n: np.ndarray, rng: np.random.Generator) -> dict[str, np.ndarray]:
    here = dip(n, 4900, 300)
    return {
        "P": plain_power(n, rng) * (1 - 0.03 * here),
        "b": 62 - 5 * here + 0.1 * rng.standard_normal(n.size),
        "fp": 362 - 5 * here + 0.2 * rng.standard_normal(n.size),
        "T": 40 + (n - 2000) / 400 + 0.05 * rng.standard_normal(n.size),
    }


SAG_COLUMNS = [
    ("boost", "b", "kPa"),
    ("fuel_pressure", "fp", "kPa"),
    ("intake_temperature", "T", "degC"),
]


def test_a_sag_says_what_coincides_and_which_setting_the_boost_reaches() -> None:
    """A relief opening near its setting: a short sag high in the range, after which power
    climbs on (common practice, no source)."""
    session, files = rows_of(3, sagging, SAG_COLUMNS)
    result = worked(session, files, TURBO)
    (found,) = sag_report(result, make_configuration(TURBO)).sags
    assert found.at == pytest.approx(4900, abs=100)
    assert found.depth == pytest.approx(0.03, abs=0.012)
    assert found.pulls == ("p0.csv", "p1.csv", "p2.csv")
    assert found.shared
    assert {b.channel for b in found.beside} == {"boost", "fuel_pressure"}
    assert all(b.change < 0 for b in found.beside)
    assert [(s.name, s.climbs_on) for s in found.settings] == [("relief", True)]


def test_a_smooth_curve_has_no_sag_and_says_what_it_would_have_seen() -> None:
    session, files = rows_of(3, lambda n, rng: {"P": plain_power(n, rng)}, [])
    report = sag_report(worked(session, files), make_configuration())
    assert report.sags == ()
    assert report.smallest is not None
    assert 0.005 < report.smallest.depth < 0.04


def test_a_pressure_that_is_cut_off_at_its_range_is_said_to_be_clipped() -> None:
    def channels(n: np.ndarray, rng: np.random.Generator) -> dict[str, np.ndarray]:
        rise = 100 + 200 * (n - 2000) / 4300 + rng.standard_normal(n.size)
        return {"P": plain_power(n, rng), "map": np.minimum(rise, 250.0)}

    columns = [("manifold_pressure", "map", "kPa")]
    session, files = rows_of(1, channels, columns)
    report = sag_report(worked(session, files, TURBO), make_configuration(TURBO))
    (found,) = [f for f in report.findings if f.code == "clipped"]
    assert "clipped at 250 kPa" in found.text


def mixed(values: Any, columns: list[tuple[str, str, str]], **more: Any) -> Any:
    def channels(n: np.ndarray, rng: np.random.Generator) -> dict[str, np.ndarray]:
        return {"P": plain_power(n, rng), **values(n)}

    session, files = rows_of(1, channels, columns, **more)
    car = more.get("car")
    return mixture(worked(session, files, car), make_configuration(car))


AFR = [("air_fuel_ratio", "a", ""), ("boost", "b", "kPa")]


def test_lambda_on_e85_by_a_gasoline_display_is_not_called_lean() -> None:
    """Lambda 0.85 shows as 12.495 on an instrument that multiplies by 14.7, on any fuel."""
    tank = {"fuel": {"kind": "ethanol-blend", "ethanol_content": "85 percent"}}
    result = mixed(
        lambda n: {"a": np.full(n.size, 12.495), "b": np.full(n.size, 60.0)},
        AFR,
        changes=tank,
        car=TURBO | {"calibration.lambda_full_load": None, "fuel.ethanol_content": "85 percent"},
    )
    (reading,) = result.readings
    assert reading.region == "boosted"
    assert reading.median == pytest.approx(0.85)
    assert reading.state == "within the usual range"
    assert not [f for f in result.findings if f.code.startswith("leaner")]
    assert [f.code for f in result.findings if f.severity == "note"] == ["display-assumed"]
    # stoichiometric ratio of E85: between gasoline's 14.7 and ethanol's 9.0 (DOE, secondary)
    assert 9.5 < result.stoichiometric < 10.1


def test_the_number_set_in_the_instrument_counts() -> None:
    result = mixed(
        lambda n: {"a": np.full(n.size, 12.495), "b": np.full(n.size, 60.0)},
        AFR,
        column={"air_fuel_ratio": {"display_stoichiometric": 14.1}},
        car=TURBO | {"calibration.lambda_full_load": None},
    )
    assert result.readings[0].median == pytest.approx(12.495 / 14.1)
    assert result.readings[0].state == "leaner than usual"


def test_a_mixture_just_beyond_the_usual_is_not_shown_equal_to_its_edge() -> None:
    result = mixed(
        lambda n: {"L": np.full(n.size, 0.904), "b": np.full(n.size, 0.0)},
        [("lambda", "L", ""), ("boost", "b", "kPa")],
        car=TURBO | {"calibration.lambda_full_load": None},
    )
    (found,) = [f for f in result.findings if f.code == "leaner-than-usual"]
    assert "lambda 0.904 was held" in found.text
    assert "(0.85 to 0.90, " in found.text


def test_a_lean_mixture_under_boost_is_a_caution_and_nothing_takes_the_edge_off_it() -> None:
    result = mixed(
        lambda n: {"L": np.full(n.size, 0.87), "b": np.full(n.size, 40.0)},
        [("lambda", "L", ""), ("boost", "b", "kPa")],
        car=TURBO | {"calibration.lambda_full_load": None},
    )
    (found,) = [f for f in result.findings if f.code == "leaner-than-usual"]
    assert found.text.endswith("leaner than usual (0.78 to 0.85, gasoline, common practice)")
    assert found.severity == "caution"


def test_a_spike_shorter_than_the_hold_does_not_count() -> None:
    def spiky(n: np.ndarray) -> dict[str, np.ndarray]:
        lam = np.full(n.size, 0.80)
        lam[200:204] = 1.05  # 40 rpm, under a tenth of a second
        return {"L": lam, "b": np.full(n.size, 60.0)}

    columns = [("lambda", "L", ""), ("boost", "b", "kPa")]
    result = mixed(spiky, columns, car=TURBO)
    assert result.readings[0].worst == pytest.approx(0.80)
    assert result.readings[0].state == "on the target"


def test_a_stretch_that_was_held_lean_is_named_with_its_place() -> None:
    def lean(n: np.ndarray) -> dict[str, np.ndarray]:
        return {"L": np.where((n > 4400) & (n < 5000), 0.92, 0.80), "b": np.full(n.size, 60.0)}

    columns = [("lambda", "L", ""), ("boost", "b", "kPa")]
    (reading,) = mixed(lean, columns, car=TURBO).readings
    assert reading.worst == pytest.approx(0.92)
    assert 4400 < (reading.worst_at or 0) < 5000
    assert reading.state == "leaner than the target"


def test_a_delayed_sensor_is_put_back_where_it_belongs() -> None:
    def late(n: np.ndarray) -> dict[str, np.ndarray]:
        return {"L": np.where((n > 4400) & (n < 5000), 0.92, 0.80), "b": np.full(n.size, 60.0)}

    columns = [("lambda", "L", ""), ("boost", "b", "kPa")]
    delayed = mixed(late, columns, car=TURBO, column={"lambda": {"delay": "0.5 s"}})
    plain = mixed(late, columns, car=TURBO)
    # half a second at 430 rpm/s
    moved = (plain.readings[0].worst_at or 0) - (delayed.readings[0].worst_at or 0)
    assert moved == pytest.approx(215, abs=25)


def test_a_calibration_for_one_ethanol_content_and_another_in_the_tank() -> None:
    car = {"calibration.written_for": {"fuel.ethanol_content": "10 percent"}}
    tank = {"fuel": {"kind": "gasoline", "ethanol_content": "40 percent"}}
    result = mixed(
        lambda n: {"L": np.full(n.size, 0.87)}, [("lambda", "L", "")], car=car, changes=tank
    )
    (found,) = [f for f in result.findings if f.code == "ethanol-differs"]
    assert found.severity == "caution"
    assert "40 % ethanol was in the tank, the calibration is written for 10 %" in found.text


def test_no_mixture_is_judged_for_a_diesel() -> None:
    car = {"car.power_source": "compression-ignition"}
    result = mixed(lambda n: {"L": np.full(n.size, 1.3)}, [("lambda", "L", "")], car=car)
    assert result.readings == ()
    assert [f.code for f in result.findings] == ["no-model"]


def codes(result: Sheet, car: dict[str, Any] | None = None) -> set[str]:
    return {f.code for f in sheet_report(result, make_configuration(car)).findings}


def test_a_mean_effective_pressure_beyond_any_of_its_kind_is_named() -> None:
    """2.6 litres at 300 kW without a charger: hp read as kW, or the wrong engine."""
    assert "bmep" in codes(make_sheet([300_000]))
    assert "bmep" not in codes(make_sheet([100_000]))


def test_kpa_read_as_psi_is_named() -> None:
    def channels(n: np.ndarray, rng: np.random.Generator) -> dict[str, np.ndarray]:
        return {"P": plain_power(n, rng), "b": np.linspace(0, 160, n.size)}

    session, files = rows_of(1, channels, [("boost", "b", "psi")])
    assert "unit-implausible" in codes(worked(session, files, TURBO), TURBO)


def test_horsepower_read_as_kilowatts_breaks_the_identity() -> None:
    def channels(n: np.ndarray, rng: np.random.Generator) -> dict[str, np.ndarray]:
        power = plain_power(n, rng)
        return {"P": power * 1.341, "M": 1000 * power / (n * RPM)}

    session, files = rows_of(1, channels, [("torque", "M", "N*m")])
    assert "power-torque-identity" in codes(worked(session, files))


def test_wheel_over_crank_is_an_estimate_for_a_manual_rear_drive_only() -> None:
    """Wheel power over 0.82 to 0.88: common practice, no source."""
    result = make_sheet([100_000])
    crank = sheet_report(result, make_configuration()).crank
    assert crank == pytest.approx((100_000 / 0.88, 100_000 / 0.82), rel=2e-3)
    front = make_configuration({"chassis.driven_wheels": "front"})
    assert sheet_report(result, front).crank is None


HIGH = {
    "altitude": "1900 m",
    "air": {"temperature": "25 degC", "pressure": "80.5 kPa", "humidity": "20 percent"},
}


def test_a_place_that_lies_high_says_so_in_one_line() -> None:
    result = make_sheet([100_000], HIGH)
    limits = [f for f in result.findings if f.code in {"altitude", "outside-standard"}]
    assert [(f.code, f.severity) for f in limits] == [("altitude", "note")]
    assert result.observed_is_better
    assert "factor 1." in limits[0].text


def test_a_low_pressure_that_the_height_does_not_explain_is_a_caution() -> None:
    result = make_sheet([100_000], HIGH | {"altitude": "100 m"})
    assert {"outside-standard", "barometer"} <= {f.code for f in result.findings}
    assert not result.observed_is_better


WEATHER = st.tuples(
    st.floats(16.0, 34.0), st.floats(93.5, 104.0), st.floats(0.0, 0.95),
    st.sampled_from(["SAE J1349", "ISO 1585", "60F-29.92-dry", "DIN 70020"]),
)  # fmt: skip


def weather(celsius: float, kilopascal: float, humid: float) -> dict[str, Any]:
    return {
        "air": {
            "temperature": f"{celsius:.3f} degC",
            "pressure": f"{kilopascal:.3f} kPa",
            "humidity": f"{100 * humid:.2f} percent",
        }
    }


@settings(max_examples=25)
@given(WEATHER)
def test_correcting_what_is_corrected_changes_nothing_and_undo_is_exact(drawn: Any) -> None:
    celsius, kilopascal, humid, standard = drawn
    air = weather(celsius, kilopascal, humid)
    inside = air | {"standard_applied": standard}
    kept = make_sheet([100_000], inside, standard=standard)
    raw = make_sheet([100_000], air, standard="none")
    np.testing.assert_allclose(kept.curves[0].power, raw.curves[0].power, rtol=1e-9)
    there = make_sheet([100_000], air, standard=standard)
    observed = there.curves[0].observed
    assert observed is not None
    np.testing.assert_allclose(observed, raw.curves[0].power, rtol=1e-9)
    factor = there.curves[0].factor
    assert factor is not None
    back = correction.undo(there.curves[0].power, factor)
    np.testing.assert_allclose(back, raw.curves[0].power, rtol=1e-9)


@settings(max_examples=15)
@given(WEATHER)
def test_power_is_torque_times_speed_before_and_after(drawn: Any) -> None:
    celsius, kilopascal, humid, standard = drawn
    for wanted in ("none", standard):
        result = make_sheet([100_000], weather(celsius, kilopascal, humid), standard=wanted)
        assert result.kept is not None
        assert result.kept.torque is not None
        np.testing.assert_allclose(
            result.kept.torque * result.grid * RPM, result.kept.mean, rtol=1e-9
        )


def compare(one: Sheet, other: Sheet) -> Measured:
    result = measured(one, other)
    assert isinstance(result, Measured)
    return result


def test_one_carried_a_few_hundred_rpm_higher_and_one_per_cent_apart_is_one_result() -> None:
    """Two pulls on one day, the second carried higher and reading 1 % more: one result
    (common practice, no source)."""
    one = make_sheet([100_000], rpm=(2000, 5900), name="a")
    other = make_sheet([101_000], rpm=(2000, 6300), name="b")
    assert not compare(one, other).power.beyond_scatter


def test_three_and_three_seven_per_cent_apart_are_different_and_1_5_on_another_day_not() -> None:
    base = make_sheet([99_600, 100_000, 100_400], name="a")
    more = make_sheet([106_600, 107_000, 107_400], name="b")
    assert compare(base, more).power.beyond_scatter
    day = {"date": dt.date(2026, 5, 2)}
    later = make_sheet([101_100, 101_500, 101_900], day, name="c")
    assert not compare(base, later).power.beyond_scatter


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"n,P\n3000,50\n", "at least"),  # one row
        (b"n,P\n" + b"3000,50\n" * 40, "stuck"),
        (b"n,P\n" + b"".join(b"%d,-50\n" % n for n in range(2000, 6000, 50)), "below zero"),
        (b"n,P\n" + b"nan,nan\n" * 40, ""),
    ],
)
def test_bad_files_are_errors_with_a_sentence(data: bytes, said: str) -> None:
    from buildlog.errors import InvalidInput

    session = Session.model_validate(SESSION | {"pull": [{"file": "p.csv"}]})
    with pytest.raises(InvalidInput) as refused:
        sheet("visit", session, {"p.csv": data}, make_configuration())
    assert said in str(refused.value)
    assert "p.csv" in str(refused.value)


def test_speed_that_runs_backwards_and_time_that_jumps_are_cut_and_named() -> None:
    n = np.concatenate([np.arange(2000, 6300, 10.0), np.arange(6300, 2000, -50.0)])
    t = np.arange(n.size) * 0.05
    t[300:] += 30.0
    p = 100 * power_shape(n)
    rows = [f"{a:.2f},{b:.0f},{c:.3f}" for a, b, c in zip(t, n, p, strict=True)]
    table = [{"channel": "time", "name": "t", "unit": "s"}, *SESSION["column"]]
    values = SESSION | {"column": table, "pull": [{"file": "p.csv"}]}
    data = "\n".join(["t,n,P", *rows, ""]).encode()
    result = sheet("visit", Session.model_validate(values), {"p.csv": data}, make_configuration())
    (found,) = [
        f for f in sheet_report(result, make_configuration()).findings if f.code == "rows-left-out"
    ]
    assert "Time jumps" in found.text
    assert "time-jumps" in codes(result)


@pytest.mark.parametrize(
    ("shown", "said"),
    [(0.56, "scaled for E85 (9.8) it would be 0.84"), (1.45, "a sensor in free air"), (0.84, None)],
)
def test_a_mixture_that_no_engine_runs_at_is_said_to_be_that_first(
    shown: float, said: str | None
) -> None:
    """8.2 on a gauge that is scaled for E85 and read as one for gasoline is 0.56, not a mixture:
    9.8 to 1 is stoichiometric for 85 % ethanol (heats and masses of `physics.gases.fuels`)."""
    result = mixed(
        lambda n: {"a": np.full(n.size, shown * 14.7), "b": np.full(n.size, 60.0)},
        AFR, car=TURBO | {"calibration.lambda_full_load": None},
    )  # fmt: skip
    told = [f for f in result.findings if f.code == "no-mixture"]
    if said is None:
        assert told == []
        return
    assert result.findings[0] is told[0]
    assert said in told[0].text
    assert not [f for f in result.findings if f.code.startswith("leaner")]


DIESEL = {
    "car.power_source": "compression-ignition",
    "engine.compression_ratio": 17.0,
    "induction.kind": "turbocharger",
}


def test_a_diesels_factor_by_iso_1585_takes_the_fuel_flow_of_the_file() -> None:
    """f_a^f_m by UN R85 annex 5 (secondary), worked out by hand: turbocharged
    f_a = (99/p)^0.7 (T/298)^1.5, f_m = 0.036 q_c - 1.14, q_c = q/r in mg per litre and cycle."""
    cycle = 60.0 * 1.6  # mg per litre and cycle before the charger's pressure ratio of 1.6

    def channels(n: np.ndarray, rng: np.random.Generator) -> dict[str, np.ndarray]:
        litres = math.pi / 4 * 0.84**2 * 0.78 * 6
        grams = cycle * litres * n / 120 / 1000  # a cycle is two turns
        return {"P": 100 * power_shape(n), "q": grams, "map": np.full(n.size, 1.6 * 95.0)}

    air = {"temperature": "35 degC", "pressure": "95 kPa", "humidity": "0 percent"}
    columns = [("fuel_flow", "q", "g/s"), ("manifold_pressure", "map", "kPa")]
    session, files = rows_of(1, channels, columns, changes={"air": air})
    car = make_configuration(DIESEL)
    result = sheet("visit", session, files, car, "ISO 1585")
    (factor,) = result.factors()
    atmospheric = (99 / 95) ** 0.7 * (308.15 / 298.15) ** 1.5
    assert factor == pytest.approx(atmospheric ** (0.036 * 60 - 1.14), rel=1e-4)
    without = make_sheet([100_000], configuration=car, standard="ISO 1585")
    assert without.standard == "none"
    assert "fuel flow" in (without.conversion.why or "")
