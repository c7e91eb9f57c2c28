"""Files of other loggers laid over pulls: by what, how well, what enters and what does not."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildlog.analysis.pulls.log_agreement import logs_beside, two_sources
from buildlog.analysis.pulls.sheet import Sheet
from buildlog.analysis.pulls.sheet_report import sheet_report
from buildlog.analysis.pulls.sheet_work import sheet
from buildlog.records.session import Session
from tests.builders import SESSION, changed, make_configuration
from tests.logger_files import KMH_PER_RPM, Logger, pull, table

UNITS = {"time": "s", "road_speed": "km/h", "engine_speed": "rpm", "power": "kW", "boost": "kPa"}
HEADS = {
    "time [s]": "time", "speed [km/h]": "road_speed", "road speed [km/h]": "road_speed",
    "rpm": "engine_speed", "engine speed [rpm]": "engine_speed", "power [kW]": "power",
    "lambda": "lambda", "boost [kPa]": "boost", "afr": "air_fuel_ratio",
}  # fmt: skip
CHARGED = make_configuration({"induction.kind": "turbocharger"})


def columns(data: bytes) -> list[dict[str, Any]]:
    heads = data.split(b"\n", 1)[0].decode().split(",")
    return [
        {"channel": HEADS[head], "name": head}
        | ({"unit": UNITS[HEADS[head]]} if HEADS[head] in UNITS else {})
        for head in heads
    ]


def worked(pulls: dict[str, bytes], logs: dict[str, bytes], **more: Any) -> Sheet:
    """A session of pulls whose logs are named "LOGGER of PULL" in `logs`; `more` goes to each."""
    first = next(iter(pulls.values()))
    values = changed(SESSION, {"column": columns(first), "gear": None, "dyno.kind": None}) | {
        "pull": [{"file": name} for name in pulls],
        "log": [
            {"file": f"{name}.csv", "pull": name.partition(" of ")[2], "column": columns(data),
             "source": name.partition(" of ")[0], **more}
            for name, data in logs.items()
        ],
    }  # fmt: skip
    files = pulls | {f"{name}.csv": data for name, data in logs.items()}
    return sheet("visit", Session.model_validate(values), files, CHARGED)


BOTH = "time [s],speed [km/h],rpm,lambda"


@given(
    shift=st.floats(-120, 120),
    rate=st.sampled_from([5.0, 8.0, 10.0, 25.0, 50.0]),
    gain=st.floats(0.97, 1.03),
    seed=st.integers(0, 1000),
)
@settings(max_examples=25, deadline=None)
def test_any_shift_any_rate_and_a_speed_that_reads_otherwise(
    shift: float, rate: float, gain: float, seed: int
) -> None:
    data = Logger(rate, gain).file(shift, "time [s],speed [km/h],lambda", seed)
    (one,) = logs_beside(worked({"p": pull(seed)}, {"wb of p": data}))
    assert one.log.by == "road speed"
    assert one.log.shift == pytest.approx(shift, abs=0.1)
    assert one.log.u_shift is not None
    assert abs(one.log.shift - shift) < 3 * one.log.u_shift
    assert one.covered == 1.0


def test_two_loggers_at_10_and_8_rows_a_second_are_within_a_tenth_of_a_second() -> None:
    wide = Logger(10, gain=1.02).file(3.7, "time [s],speed [km/h],lambda")
    plug = Logger(8, noise=0.6).file(-11.25, "time [s],speed [km/h],rpm", seed=5)
    result = worked({"p": pull()}, {"wideband of p": wide, "plug of p": plug})
    one, two = logs_beside(result)
    assert (one.log.shift, two.log.shift) == pytest.approx((3.7, -11.25), abs=0.1)
    assert (one.log.rate, two.log.rate) == pytest.approx((10, 8), rel=0.01)
    assert [1.96 * (log.log.u_shift or 9) < 0.1 for log in (one, two)] == [True, True]
    assert result.curves[0].speed.words == "recovered from the log plug, laid over by road speed"
    assert result.axis == "engine_speed"


ORDER = [
    ("time [s],rpm,speed [km/h],lambda", True, "engine speed"),
    ("time [s],speed [km/h],lambda", True, "road speed"),
    ("speed [km/h],lambda", True, "road speed, row by row"),
    ("rpm,speed [km/h],lambda", True, "engine speed, row by row"),
]


@pytest.mark.parametrize(("heads", "timed", "by"), ORDER)
def test_what_is_asked_first_and_what_then(heads: str, timed: bool, by: str) -> None:
    pulls = {"p": pull(rpm=True, time=timed)}
    (one,) = logs_beside(worked(pulls, {"wb of p": Logger(20, noise=0.1).file(2.0, heads)}))
    assert one.log.by == by
    assert one.covered > 0.95


def test_a_dyno_file_without_time_takes_the_log_at_the_same_speed() -> None:
    data = Logger(10).file(2.0, "time [s],speed [km/h],lambda")
    result = worked({"p": pull(time=False)}, {"wb of p": data})
    (one,) = logs_beside(result)
    assert (one.log.by, one.log.shift) == ("road speed, row by row", None)
    lam = one.log.channels["lambda"]
    assert np.nanmin(lam) > 0.835
    assert np.nanmax(lam) < 0.87


def clocked(offset: float, heads: str, start: float) -> bytes:
    """A file whose time is that of the day, as HH:MM:SS."""
    body = Logger(10).file(0.0, heads).decode().splitlines()
    rows = []
    for row in body[1:]:
        t, rest = row.split(",", 1)
        s = start + float(t) + offset
        rows.append(f"{int(s // 3600):02}:{int(s % 3600 // 60):02}:{s % 60:06.3f},{rest}")
    return "\n".join([body[0], *rows, ""]).encode()


def test_without_a_channel_in_both_the_time_of_day_decides_and_says_how_surely() -> None:
    start = 14 * 3600 + 125.0
    head, *rows = pull().decode().splitlines()
    pulls = {"p": "\n".join([head, *(
        f"{start + float(row.split(',', 1)[0]):.3f},{row.split(',', 1)[1]}" for row in rows), ""])
        .encode()}  # fmt: skip
    (one,) = logs_beside(worked(pulls, {"wb of p": clocked(0.0, "time [s],lambda", start)}))
    assert (one.log.by, one.log.shift, one.log.u_shift) == ("clocks", 0.0, 1.0)
    assert one.log.shifted == "+0.00 ± 1.96"


def test_what_nothing_aligns_leaves_the_pull_alone_and_says_what_to_write() -> None:
    result = worked({"p": pull()}, {"wb of p": Logger(10).file(2.0, "time [s],lambda")})
    assert logs_beside(result) == ()
    (curve,) = result.curves
    (finding,) = curve.data.log_findings
    assert finding.code == "log-not-laid"
    assert "no channel is in both files" in finding.text
    assert '--shift "3.7 s"' in (finding.hint or "")
    report = sheet_report(result, CHARGED)
    assert "log-not-laid" in {one.code for one in report.findings}
    assert result.kept is not None


def test_a_logger_of_engine_speed_beside_a_dyno_of_road_speed_goes_by_gear_and_tyre() -> None:
    # the made car turns 52 rpm for a km/h; 3.7 x 2.0 turns of a 205/55 R16's 1.924 m make 64.1
    car = make_configuration({"gearbox.ratios": [3.0, 52 / 64.1 * 2.0], "induction": None})
    data = Logger(10).file(3.7, "time [s],rpm,lambda")
    values = changed(SESSION, {"column": columns(pull()), "gear": 2, "dyno.kind": None}) | {
        "pull": [{"file": "p"}],
        "log": [{"file": "wb.csv", "pull": "p", "column": columns(data)}],
    }
    result = sheet("v", Session.model_validate(values), {"p": pull(), "wb.csv": data}, car)
    (one,) = logs_beside(result)
    assert one.log.by == "engine speed by gear and tire"
    assert one.log.shift == pytest.approx(3.7, abs=0.1)
    assert result.curves[0].speed.state == "recovered"


def test_a_stated_shift_is_taken_and_said() -> None:
    data = Logger(10).file(2.0, "time [s],lambda")
    (one,) = logs_beside(worked({"p": pull()}, {"wb of p": data}, shift="2.0 s"))
    assert one.log.words == "shifted by +2.00 ± 0.04 s, as stated"
    assert one.covered == 1.0


def test_only_rows_inside_the_pull_count() -> None:
    # lambda 1.0 before and 1.45 after the pull: the car's own course, from `mixture`
    data = Logger(10).file(3.7, BOTH)
    result = worked({"p": pull()}, {"wb of p": data})
    report = sheet_report(result, CHARGED)
    assert {one.region for one in report.mixture.readings} == {"full load"}
    (reading,) = report.mixture.readings
    assert reading.median == pytest.approx(0.85, abs=0.004)
    assert reading.worst == pytest.approx(0.86, abs=0.006)
    (curve,) = result.curves
    outside = np.setdiff1d(np.arange(curve.data.rows), curve.data.index)
    assert np.isnan(curve.data.recorded["lambda"][outside]).all()


def test_where_boost_is_known_of_a_part_the_rest_is_no_region() -> None:
    data = Logger(10, after=-4.0).file(3.7, BOTH + ",boost [kPa]")
    own = Logger(20).file(0.0, "time [s],lambda")
    logs = {"wb of p": data, "own of p": own}
    result = worked({"p": pull()}, logs, shift="0 s")
    assert "log-covers-part" in {f.code for f in sheet_report(result, CHARGED).findings}
    regions = {one.region for one in sheet_report(result, CHARGED).mixture.readings}
    assert regions <= {"boosted", "full load unboosted"}


def test_a_log_of_part_of_the_pull_says_how_much_and_reads_nothing_into_the_rest() -> None:
    data = Logger(10, after=-4.0).file(3.7, BOTH)  # it stops after six of ten seconds
    result = worked({"p": pull()}, {"wb of p": data})
    (one,) = logs_beside(result)
    assert one.covered == pytest.approx(0.6, abs=0.02)
    assert result.axis == "road_speed"  # the log's engine speed would cut the pull short
    assert result.grid[-1] == pytest.approx(6500 * KMH_PER_RPM, rel=0.03)
    assert "the log wb has it for 6" in (result.torque_reason or "")
    said = {finding.code for finding in sheet_report(result, CHARGED).findings}
    assert "log-covers-part" in said


def test_nothing_is_read_into_a_gap() -> None:
    head, *rows = Logger(10).file(3.7, BOTH).decode().splitlines()
    cut = [row for row in rows if not 3.0 < float(row.split(",")[0]) + 3.7 < 5.0]
    data = "\n".join([head, *cut, ""]).encode()
    (one,) = logs_beside(worked({"p": pull()}, {"wb of p": data}))
    assert one.covered == pytest.approx(0.8, abs=0.03)


@pytest.mark.parametrize(("apart", "part"), [(0.0, False), (0.002, False), (0.03, True)])
def test_two_sources_part_beyond_their_noise_and_both_are_kept(apart: float, part: bool) -> None:
    data = Logger(10).file(3.7, BOTH)
    head, *rows = Logger(8).file(1.0, BOTH, seed=9).decode().splitlines()
    cells = [row.split(",") for row in rows]
    other = [",".join([*c[:-1], f"{float(c[-1]) + apart:.4f}"]) for c in cells]
    logs = {"one of p": data, "two of p": "\n".join([head, *other, ""]).encode()}
    result = worked({"p": pull()}, logs)
    (found,) = [two for two in two_sources(result) if two.channel == "lambda"]
    assert (found.first, found.second, found.part) == ("one", "two", part)
    assert found.difference == pytest.approx(apart, abs=0.002)
    report = sheet_report(result, CHARGED)
    assert {reading.source for reading in report.mixture.readings} == {"one", "two"}
    assert ("sources-part" in {finding.code for finding in report.findings}) == part


def test_an_instrument_that_shows_a_ratio_is_compared_in_lambda() -> None:
    head, *rows = Logger(8).file(1.0, BOTH, seed=9).decode().splitlines()
    cells = [row.split(",") for row in rows]
    shown = [",".join([*c[:-1], f"{14.7 * float(c[-1]):.3f}"]) for c in cells]
    ratio = "\n".join([head.replace("lambda", "afr"), *shown, ""]).encode()
    result = worked({"p": pull()}, {"one of p": Logger(10).file(3.7, BOTH), "two of p": ratio})
    (found,) = [two for two in two_sources(result) if two.channel == "lambda"]
    assert not found.part
    assert found.difference == pytest.approx(0, abs=0.002)


def test_power_that_another_logger_reckons_is_never_the_pull_s() -> None:
    t = np.arange(0.0, 10.0, 0.1)
    data = table("time [s],road speed [km/h],power [kW]", t, 40 + 8 * t, np.full(t.size, 999.0))
    own = pull()
    plain = worked({"p": own}, {})
    logged = worked({"p": own}, {"ecu of p": data}, shift="0 s")
    assert plain.kept is not None
    assert logged.kept is not None
    assert logged.kept.peak_power == plain.kept.peak_power


def test_each_of_three_pulls_has_its_own_log_and_torque_follows_from_its_engine_speed() -> None:
    pulls = {f"p{i}": pull(i) for i in (1, 2, 3)}
    logs = {
        f"plug of p{i}": Logger(8).file(10.0 * i, "time [s],speed [km/h],rpm", seed=i)
        for i in (1, 2, 3)
    }
    result = worked(pulls, logs)
    assert [one.log.shift for one in logs_beside(result)] == pytest.approx([10, 20, 30], abs=0.1)
    assert result.kept is not None
    assert result.kept.torque is not None
    # P = T w at 4,000 rpm of the known course: 100 kW sin(pi/3)
    known = float(np.interp(4000, result.grid, result.kept.torque))
    assert known == pytest.approx(100e3 * math.sin(math.pi / 3) / (4000 * math.pi / 30), rel=0.01)
