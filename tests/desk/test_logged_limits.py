"""What only a log can tell of a limit, read from the pulls themselves."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from buildlog.desk.questions.limits import limits_of, turbine_inlet
from buildlog.desk.snapshot import opening
from tests.analysis.test_sheet_report import plain_power, rows_of, worked
from tests.builders import power_shape, pull_csv
from tests.cli.dyno_ledger import dyno_ledger

COLUMN = [("turbine_inlet_temperature", "EGT1", "degC")]


def test_the_hottest_gas_before_the_turbine_is_read_from_the_smoothed_pulls() -> None:
    """Rising by 60 K over each pull to 840 degC; single samples of noise do not count."""

    def channels(n: np.ndarray, rng: np.random.Generator) -> dict[str, np.ndarray]:
        hot = 780 + 60 * (n - 2000) / 4300 + 4 * rng.standard_normal(n.size)
        return {"P": plain_power(n, rng), "EGT1": hot}

    sheet = worked(*rows_of(3, channels, COLUMN))
    found = turbine_inlet(sheet, sheet.groups[0])
    assert found is not None
    assert found[0] == pytest.approx(840 + 273.15, abs=3)
    assert "3 of 3 pulls" in found[1]


def test_without_the_channel_nothing_is_known() -> None:
    sheet = worked(*rows_of(2, lambda n, rng: {"P": plain_power(n, rng)}, []))
    assert turbine_inlet(sheet, sheet.groups[0]) is None


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
