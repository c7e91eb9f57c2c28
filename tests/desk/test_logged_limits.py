"""What only a log can tell of a limit, read from the pulls themselves."""

from __future__ import annotations

import datetime as dt
import shutil
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from buildlog.analysis.car.priors import load
from buildlog.analysis.margins.figures.demand_figure import Source
from buildlog.analysis.margins.figures.margin_car import (
    MarginCar,
    PackDraws,
    Subject,
    measured_run,
)
from buildlog.analysis.margins.figures.margin_rows import Row
from buildlog.analysis.margins.kinds.engine import battery_power
from buildlog.analysis.pulls.logged_load import LoggedLoad, logged_load
from buildlog.analysis.pulls.pack import findings, pack_readings
from buildlog.desk.questions.limits import limits_of
from buildlog.desk.snapshot import opening
from buildlog.physics.parts.margin import State
from buildlog.records.toml import toml_write
from buildlog.store.ledger.ledger import Ledger
from tests.analysis.test_sheet_report import plain_power, rows_of, worked
from tests.builders import CAR, SESSION, changed, make_configuration, power_shape, pull_csv
from tests.cli.dyno_ledger import dyno_ledger, record

COLUMNS = {
    "EGT1": ("turbine_inlet_temperature", "EGT1", "degC"),
    "L": ("lambda", "L", ""),
    "AFR": ("air_fuel_ratio", "AFR", ""),
    "B": ("boost", "B", "kPa"),
    "MAP": ("manifold_pressure", "MAP", "kPa"),
    "PP": ("pack_power", "PP", "kW"),
    "U": ("pack_voltage", "U", "V"),
    "I": ("pack_current", "I", "A"),
    "SOC": ("state_of_charge", "SOC", "percent"),
}
Channel = Callable[[np.ndarray, np.random.Generator], np.ndarray]


def logged(given: dict[str, Channel], car: Mapping[str, Any] | None = None) -> LoggedLoad:
    """What three pulls with these channels say of full load, in a turbocharged car or another."""

    def channels(n: np.ndarray, rng: np.random.Generator) -> dict[str, np.ndarray]:
        return {"P": plain_power(n, rng)} | {name: make(n, rng) for name, make in given.items()}

    car = {"induction.kind": "turbocharger"} if car is None else dict(car)
    sheet = worked(*rows_of(3, channels, [COLUMNS[name] for name in given]), car)
    return logged_load(sheet, sheet.groups[0], make_configuration(car))


def rising(low: float, high: float, noise: float) -> Channel:
    """From 2,000 to 6,300 rpm."""
    return lambda n, rng: (
        low + (high - low) * (n - 2000) / 4300 + noise * rng.standard_normal(n.size)
    )


def test_the_hottest_gas_before_the_turbine_is_read_from_the_smoothed_pulls() -> None:
    """Rising by 60 K over each pull to 840 degC; single samples of noise do not count."""
    found = logged({"EGT1": rising(780, 840, 4)}).turbine_inlet
    assert found is not None
    assert found.value == pytest.approx(840 + 273.15, abs=4)
    assert "3 of 3 pulls" in found.words


@pytest.mark.parametrize("at", ["10 percent", "20 percent", "22 percent", "40 percent", None])
@pytest.mark.parametrize("rated", ["139 kW", "141 kW"])
def test_a_pack_is_judged_alike_by_the_sheet_and_by_its_margin(at: str | None, rated: str) -> None:
    """A pull from 25 to 15 % of charge over which the pack gives 100 to 140 kW (V times A), with
    single samples 30 kW above: what is stated for a charge counts for the rows that had it."""
    car: dict[str, Any] = {"car.power_source": "electric", "battery.rated_power": rated}
    if at is not None:
        car |= {"battery.low_charge.state_of_charge": at, "battery.low_charge.rated_power": "60 kW"}

    def channels(n: np.ndarray, rng: np.random.Generator) -> dict[str, np.ndarray]:
        share = (n - 2000) / 4300
        spike = np.where(np.arange(n.size) % 37 == 0, 30.0, 0.0) * (share < 0.5)
        kilowatts = 100 + 40 * share + 0.1 * rng.standard_normal(n.size)
        return {"P": plain_power(n, rng), "U": 0 * n + 350.0, "SOC": 25 - 10 * share,
                "I": 1000 * (kilowatts + spike) / 350}  # fmt: skip

    sheet = worked(*rows_of(2, channels, [COLUMNS[name] for name in ("U", "I", "SOC")]), car)
    made = make_configuration(car)
    pack = logged_load(sheet, sheet.groups[0], made).pack
    assert pack is not None
    assert pack.words == "the highest pack power logged in 2 of 2 pulls (voltage times current)"
    assert max(power for _, power in pack.draws) == pytest.approx(140e3, rel=0.01)
    readings = pack_readings(sheet, made)
    run = measured_run(1e5, 500.0, 2, Source("a test"),
                       pack=PackDraws(pack.draws, pack.sd, Source(pack.words)))  # fmt: skip
    rows = list(battery_power.rows(MarginCar(Subject(made, run, load()))))
    known = [one.margin.left.p50 for one in rows if one.margin.left is not None]
    assert min(known) == pytest.approx(min(one.left for one in readings if one.left is not None))
    found = [one.code for one in findings(readings)]
    assert ("pack-over" in found) is any(one.state is State.OVER for one in rows)
    # By hand: of 60 kW more than that is given wherever the charge falls to what is stated.
    over = at in ("20 percent", "22 percent", "40 percent") or (
        rated == "139 kW" and at in (None, "10 percent"))  # fmt: skip
    assert ("pack-over" in found) is over


def test_without_the_channels_nothing_is_known() -> None:
    assert logged({}) == LoggedLoad()


@pytest.mark.parametrize(("name", "ambient"), [("B", 0.0), ("MAP", 99.0)])
def test_the_highest_boost_is_read_above_the_air_of_the_day(name: str, ambient: float) -> None:
    """An overshoot to 70 kPa at 3,500 rpm, 50 after it, and spikes of noise."""

    def overshoot(n: np.ndarray, rng: np.random.Generator) -> np.ndarray:
        held = 50 * np.clip((n - 2400) / 800, 0, 1) + 20 * np.exp(-(((n - 3500) / 400) ** 2))
        return np.asarray(ambient + held + 0.5 * rng.standard_normal(n.size))

    found = logged({name: overshoot}).boost
    assert found is not None
    assert found.value == pytest.approx(70e3, rel=0.02)
    assert found.words == "the highest boost logged in 3 of 3 pulls"


def test_of_a_clipped_channel_the_highest_boost_is_not_known() -> None:
    """A sensor of 250 kPa: what it was above that nobody knows."""
    clipped = logged({"MAP": lambda n, rng: np.minimum(rising(120, 290, 0.5)(n, rng), 250.0)})
    assert clipped.boost is None
    assert clipped.mixture is None


@pytest.mark.parametrize(("name", "scale"), [("L", 1.0), ("AFR", 14.7)])
def test_the_mixture_is_read_at_the_power_peak_and_where_it_was_leanest(
    name: str, scale: float
) -> None:
    """0.86 at 4,600 rpm, richer toward the peak near 5,000 and beyond."""

    def trace(n: np.ndarray, rng: np.random.Generator) -> np.ndarray:
        lam = 0.78 + 0.08 * np.exp(-(((n - 4200) / 300) ** 2))
        return np.asarray(scale * (lam + 0.002 * rng.standard_normal(n.size)))

    boost = {"B": rising(20, 60, 0.2)}
    found = logged({name: trace} | boost)
    assert found.leanest is not None
    assert found.mixture is not None
    assert found.leanest.value == pytest.approx(0.85, abs=0.012)
    assert "near 4,2" in found.leanest.words
    assert found.mixture.value == pytest.approx(0.78, abs=0.01)
    assert found.mixture.sd >= 0.01


def test_what_is_lean_before_boost_is_no_mixture_of_boost() -> None:
    """0.95 while a turbocharger still wakes up is left out; without boost it counts."""

    def trace(n: np.ndarray, rng: np.random.Generator) -> np.ndarray:
        return np.where(n < 3000, 0.95, 0.80) + 0.002 * rng.standard_normal(n.size)

    def wakes(n: np.ndarray, rng: np.random.Generator) -> np.ndarray:
        return np.where(n < 3000, 1.0, 60.0) + 0.1 * rng.standard_normal(n.size)

    found = logged({"L": trace, "B": wakes}).leanest
    free = logged({"L": trace}, car={}).leanest
    assert found is not None
    assert free is not None
    assert found.value == pytest.approx(0.80, abs=0.01)
    assert free.value == pytest.approx(0.95, abs=0.01)


def test_what_no_engine_runs_at_is_no_mixture_here_either() -> None:
    """A gauge for E85 read as gasoline's: 0.56."""
    found = logged({"L": rising(0.56, 0.56, 0.002), "B": rising(20, 60, 0.2)})
    assert (found.mixture, found.leanest) == (None, None)
    assert found.boost is not None


def power(folder: Path) -> float:
    with opening.snapshot(folder) as book:
        run, _ = limits_of(book).run(book.working)
        assert run is not None
        return run.power.p50


def test_what_was_worked_out_before_is_forgotten_with_any_byte_that_it_hangs_on(
    tmp_path: Path,
) -> None:
    """The raw file, the session and the car: the index answers for the same bytes alone."""
    folder = dyno_ledger(tmp_path / "car", [("one", {"peaks": [100e3, 100e3]})])
    visit = next((folder / "dyno").iterdir())
    again = visit.with_name("2026-04-01-two")
    shutil.copytree(visit, again)
    session = again / "session.toml"
    session.write_text(session.read_text().replace("2026-03-01", "2026-04-01"))
    first = power(folder)
    assert power(folder) == first
    for file in again.glob("*.csv"):
        file.write_bytes(pull_csv(110e3))
    more = power(folder)
    assert more == pytest.approx(1.1 * first, rel=0.01)
    session.write_text(session.read_text().replace("99 kPa", "97 kPa"))
    assert power(folder) == pytest.approx(more * 1.03, rel=0.01)  # SAE J1349 for thinner air


def flat(rpm: np.ndarray) -> np.ndarray:
    """Power of a torque that is the same at every speed, 1 at the end of a pull."""
    return np.asarray(rpm / 6300)


@pytest.mark.parametrize(("shape", "rise"), [(flat, 1.0), (power_shape, 1.35)])
def test_the_clutch_is_asked_for_the_torque_that_was_measured(
    tmp_path: Path, shape: Callable[[np.ndarray], np.ndarray], rise: float
) -> None:
    """The greatest of the curve, whatever is usual between it and that at peak power."""
    visit = {"peaks": [100e3, 100.2e3], "shape": {"shape": shape, "noise": 1e-4}}
    folder = dyno_ledger(tmp_path / "car", [("one", visit)])
    with opening.snapshot(folder) as book:
        margining, sheet = limits_of(book), book.sheet(book.session_name(None))
        run, _ = margining.run(book.newest)
        group = sheet.groups[0]
        assert run is not None
        assert run.torque is not None
        assert group.peak_torque is not None
        assert run.torque.p50 == group.peak_torque.value
        assert run.omega is not None
        assert run.torque.p50 / (run.power.p50 / run.omega) == pytest.approx(rise, rel=0.02)
        (clutch,) = [r for r in margining.rows(book.newest) if r.name == "clutch torque"]
        assert any("torque measured, engine speed logged" in source for source in clutch.sources)


def test_a_change_that_no_formula_has_leaves_every_load_as_it_was_measured(tmp_path: Path) -> None:
    """A plug gap put right: the same figures from the same measurement, and it says so."""
    folder = dyno_ledger(tmp_path / "car", [("one", {"peaks": [100e3, 101e3]})])
    car = folder / "car.toml"
    car.write_text(car.read_text() + '\n[ignition]\nplug_gap = "0.8 mm"\n')
    with opening.snapshot(folder) as book:
        margining = limits_of(book)
        before, after = (margining.rows(one) for one in (book.newest, book.working))
        assert [(r.name, r.margin.demand, r.state) for r in after] == [
            (r.name, r.margin.demand, r.state) for r in before
        ]
        run, _ = margining.run(book.working)
        assert run is not None
        assert "no formula has what changed since" in str(run.note)


TURBO = {
    "induction.kind": "turbocharger",
    "induction.boost.target_gauge": "50 kPa",
    "induction.boost.relief_gauge": "70 kPa",
    "calibration.lambda_full_load": 0.80,
}


@pytest.fixture(scope="module")
def logging_car(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A car that is meant to hold 50 kPa and was logged at 60, with lambda 0.83."""
    folder = dyno_ledger(tmp_path_factory.mktemp("logged") / "car", [])
    (folder / "car.toml").write_bytes(toml_write.write(changed(CAR, TURBO)))

    def channels(n: np.ndarray, rng: np.random.Generator) -> dict[str, np.ndarray]:
        return {"P": plain_power(n, rng), "B": 0 * n + 60.0 + 0.1 * rng.standard_normal(n.size),
                "L": 0 * n + 0.83}  # fmt: skip

    session, files = rows_of(3, channels, [COLUMNS["B"], COLUMNS["L"]])
    visit = folder / "dyno" / "2026-03-01-logged"
    visit.mkdir(parents=True)
    for name, data in files.items():
        (visit / name).write_bytes(data)
    said = session.model_dump(mode="python", exclude_none=True, exclude_defaults=True)
    (visit / "session.toml").write_bytes(toml_write.write(changed(SESSION, {
        "column": said["column"], "pull": [{"file": name} for name in sorted(files)],
    })))  # fmt: skip
    with Ledger.open(folder) as ledger:
        record(ledger, "logged", dt.date(2026, 3, 1), "dyno")
    return folder


def row_of(rows: Sequence[Row], name: str) -> Row:
    return next(one for one in rows if one.name == name)


def test_a_measured_version_is_held_to_what_was_logged(logging_car: Path) -> None:
    """Not to the target: 70 - 60 kPa are left and not 20, and lambda is 0.83 and not 0.80."""
    with opening.snapshot(logging_car) as book:
        rows = limits_of(book).rows(book.newest)
        relief, lean = row_of(rows, "boost against relief"), row_of(rows, "full-load lambda")
        assert relief.margin.left is not None
        assert relief.margin.left.p50 == pytest.approx(10e3, abs=300)
        assert relief.margin.left.p50 - relief.margin.left.p10 == pytest.approx(1.2816 * 1.5e3)
        assert relief.demand.basis == lean.demand.basis == "measured"
        assert "boost logged in 3 of 3 pulls" in relief.sources[0]
        assert lean.margin.left is not None
        assert lean.margin.left.p50 == pytest.approx(0.02, abs=2e-3)


@pytest.mark.parametrize(
    ("change", "boost", "lean"),
    [
        ({"engine.compression_ratio": 11.5}, 60e3, 0.83),
        ({"induction.boost.target_gauge": "55 kPa"}, 55e3, 0.80),
        ({"calibration.lambda_full_load": 0.78}, 60e3, 0.78),
        ({"clutch.rated_torque": "400 N*m"}, 60e3, 0.83),
    ],
)
def test_what_was_logged_stays_while_nothing_that_it_hangs_on_changes(
    logging_car: Path, change: dict[str, Any], boost: float, lean: float
) -> None:
    car = logging_car / "car.toml"
    before = car.read_bytes()
    try:
        car.write_bytes(toml_write.write(changed(CAR, TURBO | change)))
        with opening.snapshot(logging_car) as book:
            rows = limits_of(book).rows(book.working)
            relief, mixture = row_of(rows, "boost against relief"), row_of(rows, "full-load lambda")
            assert relief.demand.band is not None
            assert relief.demand.band.p50 == pytest.approx(boost, rel=0.02)
            assert mixture.demand.p50 == pytest.approx(lean, abs=2e-3)
    finally:
        car.write_bytes(before)
