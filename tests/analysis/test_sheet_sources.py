"""Where power and engine speed come from: roller trace, road log, known point, second log."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from buildlog.analysis.pulls.pull_data import AXES, OF_POWER, power_in_file, sweep_axis
from buildlog.analysis.pulls.sheet import Sheet
from buildlog.analysis.pulls.sheet_work import sheet
from buildlog.errors import InvalidInput
from buildlog.records.session import Session
from tests.builders import SESSION, changed, make_configuration

RPM = math.pi / 30
ROLLER = 1.6  # m
INERTIA = 900.0  # kg*m^2: the shape of a drum that takes some ten seconds
TURNS = 3.7 / (math.pi * (16 * 0.0254 + 2 * 0.55 * 0.205) / 1.032)  # engine turns per metre


def csv(names: str, *columns: np.ndarray) -> bytes:
    rows = (",".join(f"{value:.5f}" for value in row) for row in zip(*columns, strict=True))
    return "\n".join([names, *rows, ""]).encode()


def column(channel: str, name: str, unit: str, **more: Any) -> dict[str, Any]:
    return {"channel": channel, "name": name, "unit": unit, **more}


def worked(
    changes: dict[str, Any], files: dict[str, bytes], pulls: list[dict[str, Any]], **car: Any
) -> Sheet:
    values = changed(SESSION, changes) | {"pull": pulls}
    configuration = make_configuration(car.get("car"))
    return sheet("visit", Session.model_validate(values), files, configuration)


def drum_run(
    noise: float = 0.0, loss: tuple[float, float, float] = (0.0, 0.0, 0.0)
) -> tuple[np.ndarray, np.ndarray]:
    """Time and roller speed [rad/s] of a car with a known power curve, by small steps.

    Reference: Newton's law for rotation, I w dw/dt = P - loss, integrated here.
    """
    radius = ROLLER / (2 * math.pi)
    low, high = 2000 * RPM, 6300 * RPM  # engine
    ratio = TURNS * ROLLER  # engine turns for a turn of the roller
    w = np.linspace(low, high, 40_000) / ratio
    v = w * radius
    drag = (loss[0] + loss[1] * v + loss[2] * v**2) * v
    accel = (true_power(w * ratio) - drag) / (INERTIA * w)
    time = np.concatenate([[0.0], np.cumsum(np.diff(w) / ((accel[1:] + accel[:-1]) / 2))])
    even = np.arange(0.0, time[-1], 0.01)
    speed = np.interp(even, time, w)
    chance = np.random.default_rng(7).standard_normal(even.size)
    return even, speed + noise * chance


def true_power(omega: np.ndarray) -> np.ndarray:
    x = omega / (5500 * RPM)
    return 100_000 * (x * np.exp(1 - x)) ** 2


DRUM = {
    "dyno.drum_inertia": f"{INERTIA} kg*m^2",
    "dyno.roller_circumference": f"{ROLLER} m",
    "column": [column("time", "t", "s"), column("roller_speed", "w", "rad/s")],
}
LOSS = {
    "dyno.wheels_share": "0 percent",
    "dyno.parasitic_a": "60 N",
    "dyno.parasitic_b": "2 N*s/m",
    "dyno.parasitic_c": "0.1 N*s^2/m^2",
}


def test_power_from_the_roller_trace_is_the_power_that_drove_it() -> None:
    time, speed = drum_run(noise=0.01, loss=(60, 2, 0.1))
    result = worked(DRUM | LOSS, {"r.csv": csv("t,w", time, speed)}, [{"file": "r.csv"}])
    assert result.kept is not None
    assert result.kept.peak_power.value == pytest.approx(100_000, rel=0.005)
    assert result.kept.peak_power.at == pytest.approx(5500, abs=150)
    assert {"smoothing", "engine-speed-recovered"} <= {f.code for f in result.findings}


def test_the_noise_of_the_roller_s_speed_is_in_the_interval_of_one_pull() -> None:
    widths = []
    for noise in (0.001, 1.0):
        time, speed = drum_run(noise=noise, loss=(60, 2, 0.1))
        result = worked(DRUM | LOSS, {"r.csv": csv("t,w", time, speed)}, [{"file": "r.csv"}])
        assert result.kept is not None
        widths.append(result.peak_half_width(result.kept) / result.kept.peak_power.value)
    assert widths[0] == pytest.approx(1.96 * 0.01, rel=0.01)  # the usual scatter of one pull
    assert widths[1] > 1.3 * widths[0]


def test_a_roller_s_peak_within_one_smoothing_width_of_the_end_is_no_peak() -> None:
    time, speed = drum_run(loss=(60, 2, 0.1))
    ends = {}
    for share in (1.0, 0.8):
        kept = time <= share * time[-1]
        file = {"r.csv": csv("t,w", time[kept], speed[kept])}
        result = worked(DRUM | LOSS, file, [{"file": "r.csv"}])
        assert result.kept is not None
        ends[share] = (float(result.grid[-1]), result.kept.peak_power)
    assert not ends[1.0][1].at_edge
    assert ends[0.8][0] == 5650
    assert ends[0.8][1].at_edge  # 150 rpm before the end, by a fit 212 rpm wide


def test_what_is_not_declared_of_the_machine_is_said_and_reads_low() -> None:
    time, speed = drum_run(loss=(60, 2, 0.1))
    result = worked(DRUM, {"r.csv": csv("t,w", time, speed)}, [{"file": "r.csv"}])
    said = [f.text for f in result.findings if f.code == "power-derived"]
    assert any("parasitic_a" in text for text in said)
    assert any("wheels_share" in text for text in said)
    assert result.kept is not None
    assert result.kept.peak_power.value < 0.995 * 100_000


def test_the_wheels_share_is_part_of_the_inertia() -> None:
    time, speed = drum_run()
    file = {"r.csv": csv("t,w", time, speed)}
    bare = worked(DRUM | {"dyno.wheels_share": "0 percent"}, file, [{"file": "r.csv"}])
    shared = worked(DRUM | {"dyno.wheels_share": "2 percent"}, file, [{"file": "r.csv"}])
    assert bare.kept is not None
    assert shared.kept is not None
    assert shared.kept.peak_power.value / bare.kept.peak_power.value == pytest.approx(1.02)


@pytest.mark.parametrize(
    ("gone", "said"),
    [
        ({"dyno.drum_inertia": None}, "dyno.drum_inertia is missing"),
        ({"column": [column("roller_speed", "w", "rad/s")]}, "time is missing"),
    ],
)
def test_what_an_inertia_dyno_lacks_is_named(gone: dict[str, Any], said: str) -> None:
    time, speed = drum_run()
    with pytest.raises(InvalidInput, match=said):
        worked(DRUM | gone, {"r.csv": csv("t,w", time, speed)}, [{"file": "r.csv"}])


MASS, AREA, ROLLING = 1400.0, 0.68, 0.013
ROAD = {
    "dyno": {"id": "lane", "kind": "road"},
    "road": {
        "mass": f"{MASS} kg",
        "rotating_mass_factor": 1.06,
        "a": "180 N",
        "c": "0.42 N*s^2/m^2",
        "grade": "0 percent",
    },
    "column": [column("time", "t", "s"), column("road_speed", "v", "m/s")],
}


def road_run(grade: float = 0.0) -> tuple[np.ndarray, np.ndarray]:
    """Time and speed of a car of known power on a road; forces balanced step by step."""
    v = np.linspace(15.0, 2 * math.pi * 6300 / 60 / (2 * math.pi * TURNS), 30_000)
    force = 180 + 0.42 * v**2 + MASS * 9.80665 * math.sin(math.atan(grade))
    accel = (true_power(v * TURNS * 2 * math.pi) / v - force) / (1.06 * MASS)
    time = np.concatenate([[0.0], np.cumsum(np.diff(v) / ((accel[1:] + accel[:-1]) / 2))])
    even = np.arange(0.0, time[-1], 0.02)
    return even, np.interp(even, time, v)


def test_the_cars_own_road_load_serves_a_road_log_that_states_none() -> None:
    """The same drag by car.toml as by the session gives the same power."""
    time, speed = road_run()
    file = {"road.csv": csv("t,v", time, speed)}
    session = {**ROAD, "road": {k: v for k, v in ROAD["road"].items() if k not in ("a", "b", "c")}}
    load = {f"chassis.road_load_{k}": ROAD["road"][k] for k in ("a", "b", "c") if k in ROAD["road"]}
    stated = worked(ROAD, file, [{"file": "road.csv"}])
    own = worked(session, file, [{"file": "road.csv"}], car=load)
    assert stated.kept is not None
    assert own.kept is not None
    assert own.kept.peak_power == stated.kept.peak_power
    assert any("road load of car.toml" in finding.text for finding in own.findings)


def test_power_from_a_road_log_is_an_estimate_with_a_wider_interval() -> None:
    time, speed = road_run()
    file = {"road.csv": csv("t,v", time, speed)}
    result = worked(ROAD, file, [{"file": "road.csv"}])
    assert result.kept is not None
    assert result.kept.peak_power.value == pytest.approx(100_000, rel=0.01)
    assert result.u_power > 0.02
    (found,) = [f for f in result.findings if f.code == "power-estimated"]
    assert "estimate from a road log" in found.text
    half = result.peak_half_width(result.kept) / result.kept.peak_power.value
    assert half > 1.96 * result.u_power


def test_half_a_per_cent_of_unseen_grade_is_inside_the_interval() -> None:
    time, speed = road_run(grade=0.005)
    result = worked(ROAD, {"road.csv": csv("t,v", time, speed)}, [{"file": "road.csv"}])
    assert result.kept is not None
    off = abs(result.kept.peak_power.value - 100_000)
    assert off < result.peak_half_width(result.kept)


def test_a_road_log_without_road_load_names_what_is_missing() -> None:
    time, speed = road_run()
    gone = ROAD | {"road": {"mass": "1400 kg"}}
    with pytest.raises(InvalidInput, match="road load is missing"):
        worked(gone, {"road.csv": csv("t,v", time, speed)}, [{"file": "road.csv"}])


def road_pull() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Time, road speed [m/s] and power [kW] of a pull without engine speed."""
    n = np.linspace(2000, 6300, 600)
    time = 12 * (n - 2000) / 4300 + 0.4 * np.sin((n - 2000) / 700)
    v = n / 60 / TURNS
    return time, v, true_power(n * RPM) / 1000


PULL = {
    "column": [
        column("time", "t", "s"),
        column("road_speed", "v", "m/s"),
        column("power", "P", "kW"),
    ]
}


def test_engine_speed_from_one_known_point() -> None:
    """4,000 rpm was read at the road speed that ratios and tyre give for it."""
    time, v, power = road_pull()
    point = {"engine_speed": "4000 rpm", "road_speed": f"{4000 / 60 / TURNS:.6f} m/s"}
    changes = PULL | {"known_point": point}
    car = {"gearbox.ratios": None, "tyres.size": None}
    file = {"p.csv": csv("t,v,P", time, v, power)}
    result = worked(changes, file, [{"file": "p.csv"}], car=car)
    assert result.kept is not None
    assert result.kept.peak_power.at == pytest.approx(5500, abs=40)
    (curve,) = result.curves
    assert "one known point (4000 rpm at" in curve.speed.words
    # reading 1 %, slip 1 %, tyre growth 0.5 % in quadrature (common practice, no source)
    assert curve.speed.u == pytest.approx(0.015)


def test_a_known_point_that_is_half_written_is_missing() -> None:
    time, v, power = road_pull()
    changes = PULL | {"known_point": {"engine_speed": "4000 rpm"}}
    result = worked(changes, {"p.csv": csv("t,v,P", time, v, power)}, [{"file": "p.csv"}])
    assert result.torque_reason == "cannot be recovered: known_point.road_speed missing"


LOG = [
    column("time", "T", "s"),
    column("road_speed", "V", "m/s"),
    column("engine_speed", "N", "rpm"),
]


def with_log(shift: float, **pull: Any) -> tuple[dict[str, bytes], list[dict[str, Any]]]:
    """A pull without engine speed, and a log with it that started `shift` seconds earlier."""
    time, v, power = road_pull()
    before = np.arange(-4.0, time[0], 0.02)
    late = np.concatenate([before, time])
    idle = np.full(before.size, v[0])
    speed = np.concatenate([idle, v])
    files = {
        "p.csv": csv("t,v,P", time, v, power),
        "log.csv": csv("T,V,N", late + shift, speed, speed * TURNS * 60),
    }
    return files, [{"file": "p.csv", "log": "log.csv", **pull}]


def test_engine_speed_of_a_second_log_by_the_shift_that_is_found_and_said() -> None:
    files, pulls = with_log(7.3)
    result = worked(PULL | {"log_column": LOG, "gear": None}, files, pulls)
    (curve,) = result.curves
    assert curve.speed.state == "recovered"
    (log,) = curve.data.logs
    assert log.shift == pytest.approx(-7.3, abs=0.05)
    assert curve.speed.words == "recovered from the log log, laid over by road speed"
    assert result.kept is not None
    assert result.kept.peak_power.at == pytest.approx(5500, abs=60)


def test_the_found_shift_can_be_refused_by_stating_another() -> None:
    files, pulls = with_log(7.3, log_shift="-6.3 s")
    result = worked(PULL | {"log_column": LOG, "gear": None}, files, pulls)
    (curve,) = result.curves
    assert curve.data.logs[0].words == "shifted by -6.30 ± 0.04 s, as stated"


def test_a_log_without_a_common_clock_is_laid_over_by_road_speed() -> None:
    files, pulls = with_log(7.3, log_by="road_speed")
    result = worked(PULL | {"log_column": LOG, "gear": None}, files, pulls)
    (curve,) = result.curves
    assert "laid over by road speed" in curve.speed.words
    # the log's own 0.2 %, and 1 % by which two road speeds differ (common practice)
    assert curve.speed.u == pytest.approx(math.hypot(0.002, 0.01))
    assert result.kept is not None
    assert result.kept.peak_power.at == pytest.approx(5500, abs=60)


def test_a_log_whose_columns_nobody_named_is_refused_with_what_to_write() -> None:
    files, pulls = with_log(0.0)
    with pytest.raises(InvalidInput) as refused:
        worked(PULL, files, pulls)
    assert "[[log_column]]" in str(refused.value)


def test_a_slipping_converter_knows_no_torque_even_with_a_known_point() -> None:
    """No engine-speed signal, no torque, unless it is recovered: common practice, no source."""
    time, v, power = road_pull()
    changes = PULL | {
        "lockup": "slipping",
        "known_point": {"engine_speed": "4000 rpm", "road_speed": "30 m/s"},
    }
    car = {"gearbox.kind": "automatic"}
    file = {"p.csv": csv("t,v,P", time, v, power)}
    result = worked(changes, file, [{"file": "p.csv"}], car=car)
    assert result.torque_reason == "converter not locked"
    assert result.axis == "road_speed"


def test_what_a_large_file_is_looked_over_for_is_all_that_power_is_made_of() -> None:
    """The columns that `sweep_axis` and `power_in_file` ask for, and no other."""
    asked: set[str] = set()

    class Asked(dict):
        def __contains__(self, name: object) -> bool:
            asked.add(str(name))
            return False

    class Halves(Asked):
        """Torque and force are there, what they are multiplied by is not."""

        def __contains__(self, name: object) -> bool:
            super().__contains__(name)
            return name in ("torque", "tractive_force")

    with pytest.raises(InvalidInput):
        sweep_axis(Asked())
    assert asked == set(AXES)
    for held in (Asked(), Halves()):
        assert power_in_file(held) == (None, "")
    assert asked == {*AXES, *OF_POWER}
