"""ASAM MDF4 files: read through the extra [mdf], and refused in words without it."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pytest

from buildlog.errors import InvalidInput, MissingExtra
from buildlog.rawfiles import mdf
from buildlog.rawfiles.spec import ColumnSpec
from buildlog.rawfiles.table import read_table

HEAD = mdf.MAGIC + b"4.10    buildlog" + bytes(40)
needs_asammdf = pytest.mark.skipif(
    importlib.util.find_spec("asammdf") is None, reason="the extra [mdf] is not installed"
)
ignore_its_warnings = pytest.mark.filterwarnings("ignore::DeprecationWarning")


def test_without_the_extra_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    mdf.as_csv.cache_clear()
    with pytest.raises(MissingExtra) as caught:
        read_table(HEAD, "run.mf4", [ColumnSpec("power", "P", "kW")])
    assert caught.value.exit_status == 9
    assert "buildlog[mdf]" in (caught.value.hint or "")


def test_only_the_first_bytes_decide() -> None:
    assert mdf.is_mdf(HEAD)
    assert mdf.is_mdf(b"UnFinMF 4.10")
    assert not mdf.is_mdf(b"MDF;n;P\n1;2;3\n")


@pytest.fixture
def recorded(tmp_path: Path) -> Path:
    from asammdf import MDF, Signal

    fast, slow = np.linspace(0, 8, 801), np.linspace(0, 7.5, 76)
    with MDF(version="4.10") as file:
        file.append([
            Signal(2000 + 500 * fast, fast, name="nmot", unit="rpm"),
            Signal(40 + 10 * fast, fast, name="P wheel", unit="kW"),
        ])  # fmt: skip
        file.append([Signal(0.9 - 0.01 * slow, slow, name="lambda", unit="")])
        return Path(file.save(tmp_path / "run.mf4", overwrite=True))


@needs_asammdf
@ignore_its_warnings
@pytest.mark.parametrize("as_path", [True, False])
def test_what_was_written_is_read_in_si(recorded: Path, as_path: bool) -> None:
    columns = [
        ColumnSpec("engine_speed", "nmot", "rpm"),
        ColumnSpec("power", "P wheel", "kW"),
        ColumnSpec("lambda", "lambda", "1"),
        ColumnSpec("time", "time", "s"),
    ]
    source = recorded if as_path else recorded.read_bytes()
    channels = read_table(source, "run.mf4", columns).channels
    time = np.linspace(0, 8, 801)
    np.testing.assert_allclose(channels["time"], time, atol=1e-9)
    np.testing.assert_allclose(channels["engine_speed"], (2000 + 500 * time) * np.pi / 30)
    np.testing.assert_allclose(channels["power"], (40 + 10 * time) * 1e3)
    within = time <= 7.5
    np.testing.assert_allclose(channels["lambda"][within], 0.9 - 0.01 * time[within], rtol=1e-9)
    assert np.isnan(channels["lambda"][~within]).all()  # nothing is made up past its end


@needs_asammdf
@ignore_its_warnings
@pytest.mark.parametrize("cut", [64, 200, 0.5])
def test_a_damaged_file_is_refused_in_words(recorded: Path, cut: float) -> None:
    data = recorded.read_bytes()
    short = data[: int(cut if cut > 1 else cut * len(data))]
    with pytest.raises(InvalidInput):
        read_table(short, "run.mf4", [ColumnSpec("power", "P wheel", "kW")])
