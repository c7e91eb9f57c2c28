"""What only a log can tell of a limit, read from the pulls themselves."""

from __future__ import annotations

import numpy as np
import pytest

from buildlog.desk.questions.limits import turbine_inlet
from tests.analysis.test_sheet_report import plain_power, rows_of, worked

COLUMN = [("turbine_inlet_temperature", "EGT1", "degC")]


def test_the_hottest_gas_before_the_turbine_is_read_from_the_smoothed_pulls() -> None:
    """Rising by 60 K over each pull to 840 degC; single samples of noise do not count."""

    def channels(n: np.ndarray, rng: np.random.Generator) -> dict[str, np.ndarray]:
        hot = 780 + 60 * (n - 2000) / 4300 + 4 * rng.standard_normal(n.size)
        return {"P": plain_power(n, rng), "EGT1": hot}

    sheet = worked(*rows_of(3, channels, COLUMN))
    found = turbine_inlet(sheet, sheet.groups[0])
    assert found is not None
    assert found.band is not None
    assert found.band.p50 == pytest.approx(840 + 273.15, abs=3)
    assert found.basis == "measured"
    assert "3 of 3 pulls" in found.sources[0].brief


def test_without_the_channel_nothing_is_known() -> None:
    sheet = worked(*rows_of(2, lambda n, rng: {"P": plain_power(n, rng)}, []))
    assert turbine_inlet(sheet, sheet.groups[0]) is None
