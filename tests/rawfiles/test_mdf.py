"""ASAM MDF4 files: read through the extra [mdf], and refused in words without it."""

from __future__ import annotations

import importlib.util
import json
import random
from pathlib import Path
from typing import Any

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
            Signal(2000 + 500 * fast, fast, name="revs", unit="rpm"),
            Signal(40 + 10 * fast, fast, name="P wheel", unit="kW"),
        ])  # fmt: skip
        file.append([Signal(0.9 - 0.01 * slow, slow, name="lambda", unit="")])
        return Path(file.save(tmp_path / "run.mf4", overwrite=True))


@needs_asammdf
@ignore_its_warnings
@pytest.mark.parametrize("as_path", [True, False])
def test_what_was_written_is_read_in_si(recorded: Path, as_path: bool) -> None:
    columns = [
        ColumnSpec("engine_speed", "revs", "rpm"),
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
@pytest.mark.one_in(3)
def test_a_damaged_file_is_refused_in_words(recorded: Path, cut: float) -> None:
    data = recorded.read_bytes()
    short = data[: int(cut if cut > 1 else cut * len(data))]
    with pytest.raises(InvalidInput) as caught:
        read_table(short, "run.mf4", [ColumnSpec("power", "P wheel", "kW")])
    assert caught.value.where == "run.mf4"


# A file as a logger writes it: several rates, invalid samples, units, a name twice


@pytest.fixture
def logged(tmp_path: Path) -> list[Path]:
    """Three pulls in MDF 4.10 by asammdf, an independent writer of the standard's files."""
    return [_pull(tmp_path / f"pull-{number}.mf4", number) for number in range(3)]


def _pull(path: Path, number: int) -> Path:
    from asammdf import MDF, Signal

    fast, slow, crawl = (np.linspace(0, 9, count) for count in (901, 91, 10))
    speed = 2200 + 4000 * fast / 9
    torque = 180 * np.exp(-(((speed - 4200) / 2600) ** 2))
    power = torque * speed * np.pi / 30e3 + np.random.default_rng(number).normal(0, 0.2, 901)
    invalid = (slow > 2.95) & (slow < 3.95)  # ten samples
    mixture = np.where(invalid, 9.9, 0.88)
    with MDF(version="4.10") as file:
        file.append([
            Signal(speed, fast, name="revs", unit="1/min"),
            Signal(power, fast, name="P_wheel", unit="kW"),
        ])  # fmt: skip
        file.append([Signal(mixture, slow, name="lambda", unit="", invalidation_bits=invalid)])
        file.append([
            Signal(20 + crawl, crawl, name="T_air", unit="°C"),
            Signal(np.zeros(10), crawl, name="revs", unit="rpm"),
        ])  # fmt: skip
        return Path(file.save(path, overwrite=True))


@needs_asammdf
@ignore_its_warnings
def test_invalid_samples_are_no_values_and_slow_channels_are_laid_on_the_fastest_times(
    logged: list[Path],
) -> None:
    columns = [
        ColumnSpec("power", "P_wheel", "kW"),
        ColumnSpec("lambda", "lambda", "1"),
        ColumnSpec("intake_temperature", "T_air", "degC"),
    ]
    channels = read_table(logged[0], "pull-0.mf4", columns).channels
    time = np.linspace(0, 9, 901)
    gone = (time > 2.905) & (time < 3.995)  # from the last valid sample to the next one
    np.testing.assert_array_equal(np.isnan(channels["lambda"]), gone)
    np.testing.assert_allclose(channels["lambda"][~gone], 0.88)
    np.testing.assert_allclose(channels["intake_temperature"], 293.15 + time, atol=1e-9)


@needs_asammdf
@ignore_its_warnings
def test_from_files_to_sheet_and_difference(
    logged: list[Path], demo_copy: Path, buildlog: Any
) -> None:
    add = ["dyno", "add", *logged, "--session", "mdf", "--gear", "4", "--odometer", "92000 mi",
           "--date", "2026-11-20", "--air-temperature", "20 degC", "--air-pressure", "990 hPa",
           "--humidity", "45 percent", "--dyno-kind", "inertia", "--dyno", "R1",
           "--standard-applied", "none", "--map", "engine_speed=revs:1/min"]  # fmt: skip
    added = buildlog(*add, at=demo_copy)
    assert added.status == 0, added.err
    assert '"revs#2" (engine_speed is mapped to "revs")' in " ".join(added.out.split())
    kept = demo_copy / "dyno" / "2026-11-20-mdf" / "pull-0.mf4"
    assert kept.read_bytes() == logged[0].read_bytes()  # the file itself is the evidence
    recorded = buildlog("record", "-m", "mdf", "--odometer", "92000 mi", "--date", "2026-11-20",
                        "--stage", "mdf")  # fmt: skip
    assert recorded.status == 0, recorded.err
    sheet = json.loads(buildlog("dyno", "sheet", "mdf", "--json").out)
    measured = [pull["peak_power_w"] for pull in sheet["pulls"]]
    # the peak of M(n) * n by calculus: n = (4200 + sqrt(4200^2 + 2 * 2600^2)) / 2
    top = (4200 + np.sqrt(4200**2 + 2 * 2600**2)) / 2
    peak = 180 * np.exp(-(((top - 4200) / 2600) ** 2)) * top * np.pi / 30
    assert len(measured) == 3
    np.testing.assert_allclose(measured, peak * sheet["factor"], rtol=0.004)
    power = json.loads(buildlog("diff", "stage-2", "mdf", "--json").out)["measured"]["power"]
    assert power["peak_to"]["value"] == pytest.approx(peak * sheet["factor"], rel=0.004)


def test_the_command_without_the_extra_ends_with_9_and_says_what_to_install(
    tmp_path: Path, demo_copy: Path, buildlog: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    mdf.as_csv.cache_clear()
    (tmp_path / "run.mf4").write_bytes(HEAD + b"x" * 500)
    real = importlib.util.find_spec
    hidden = lambda name, *more: None if name == "asammdf" else real(name, *more)  # noqa: E731
    monkeypatch.setattr(importlib.util, "find_spec", hidden)
    done = buildlog("dyno", "add", tmp_path / "run.mf4", "--session", "mdf", at=demo_copy)
    assert done.status == 9
    assert done.out == ""
    assert 'pip install "buildlog[mdf]"' in done.err
    assert not list((demo_copy / "dyno").glob("*-mdf"))


@needs_asammdf
@ignore_its_warnings
@pytest.mark.filterwarnings("ignore::RuntimeWarning")
@pytest.mark.long
def test_damaged_bytes_end_in_one_sentence_or_in_the_numbers(recorded: Path) -> None:
    """What is not refused must be a table; no damage may end in anything else."""
    whole = recorded.read_bytes()
    chance = random.Random(4)
    refused = []
    for _ in range(60):
        data = bytearray(whole)
        for _ in range(chance.choice([1, 4, 64])):
            data[8 + chance.randrange(len(data) - 8)] ^= 1 << chance.randrange(8)
        try:
            assert mdf.as_csv(bytes(data)).startswith(b"time,")
        except InvalidInput as error:
            refused.append(error.what)
    assert len(refused) > 5
    assert all("MDF file" in text and "\n" not in text for text in refused)


@needs_asammdf
@ignore_its_warnings
def test_a_file_that_says_it_is_huge_is_refused_before_it_is_read(
    recorded: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(mdf, "_LARGEST", 1000)
    mdf.as_csv.cache_clear()
    with pytest.raises(InvalidInput, match=r"values \(1,000 at most\)"):
        mdf.as_csv(recorded.read_bytes())
