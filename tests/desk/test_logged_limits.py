"""What only a log can tell of a limit, read from the pulls themselves."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest

from buildlog.desk.questions.limits import limits_of, turbine_inlet
from buildlog.desk.snapshot import opening
from tests.analysis.test_sheet_report import plain_power, rows_of, worked
from tests.builders import pull_csv
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
