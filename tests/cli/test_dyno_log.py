"""`dyno log` from end to end: which pull, which session, what is asked, all files or none."""

from __future__ import annotations

import json
import shutil
import tomllib
from pathlib import Path
from typing import Any

import click
import pytest

from buildlog.cli import common
from buildlog.desk.give.booklet_content import content
from buildlog.desk.snapshot import opening
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.report.booklet.front import loggers
from buildlog.report.booklet.jsonout import content_json
from tests.conftest import Call
from tests.logger_files import Logger, pull, table

SAID = ("--date", "2026-03-14", "--standard-applied", "none", "--dyno", "R1")
WIDE = "time [s],speed [km/h],lambda"
PLUG = "time [s],speed [km/h],rpm"
VISIT = "2026-03-14-base"


@pytest.fixture(scope="module")
def raw(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three pulls, two loggers of each, one stream of all three, one file that nothing aligns."""
    folder = tmp_path_factory.mktemp("raw")
    held: dict[str, bytes] = {"lost.csv": Logger(10).file(1.0, "time [s],lambda")}
    stream, start = [], 0.0
    for n in (1, 2, 3):
        held[f"run-{n}.csv"] = pull(n)
        held[f"wideband-{n}.csv"] = Logger(10, 1.01).file(3.7 * n, WIDE, n)
        held[f"plug-{n}.csv"] = Logger(8, noise=0.6).file(-2.5 * n, PLUG, n).replace(b"\n", b"\r\n")
        for row in Logger(10, after=5).file(0.0, WIDE, n).decode().splitlines()[1:]:
            t, rest = row.split(",", 1)
            stream.append(f"{start + float(t):.3f},{rest}")
        start += 60.0
    held["stream.csv"] = "\n".join([WIDE, *stream, ""]).encode()
    for name, data in held.items():
        (folder / name).write_bytes(data)
    return folder


@pytest.fixture(scope="module")
def measured(tmp_path_factory: pytest.TempPathFactory, raw: Path) -> Path:
    """A car with a session of three pulls that is not yet recorded."""
    from click.testing import CliRunner

    from buildlog.cli.main import cli

    folder = tmp_path_factory.mktemp("measured") / "car"
    runs = [str(raw / f"run-{n}.csv") for n in (1, 2, 3)]
    for line in (
        ["new", str(folder), "--name", "Marrow Tern"],
        ["record", "-m", "intake", "--kind", "found", "--date", "2026-01-02", "--ledger", folder],
        ["dyno", "add", *runs, "--session", "base", *SAID, "--ledger", str(folder)],
    ):
        told = CliRunner().invoke(cli, [str(word) for word in line])
        assert told.exit_code == 0, told.output
    return folder


@pytest.fixture
def car(measured: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(measured, tmp_path / "car"))


def session(car: Path) -> dict[str, Any]:
    return tomllib.loads((car / "dyno" / VISIT / "session.toml").read_text("utf-8"))


def wide(raw: Path) -> list[Path]:
    return [raw / f"wideband-{n}.csv" for n in (1, 2, 3)]


def test_two_loggers_of_three_pulls_in_one_line(buildlog: Call, car: Path, raw: Path) -> None:
    before = (car / "dyno" / VISIT / "session.toml").read_text("utf-8")
    files = [*wide(raw), *(raw / f"plug-{n}.csv" for n in (1, 2, 3))]
    told = buildlog("dyno", "log", *files, at=car)
    assert told.status == 0, told.err
    assert told.out.startswith("2026-03-14-base: 6 logs beside 3 pulls\n")
    assert "paired in their order" in told.out
    for path in files:
        assert (car / "dyno" / VISIT / path.name).read_bytes() == path.read_bytes()
    assert (car / "dyno" / VISIT / "session.toml").read_text("utf-8").startswith(before)
    kept = session(car)["log"]
    assert [(one["file"], one["pull"], one["source"]) for one in kept[::3]] == [
        ("wideband-1.csv", "run-1.csv", "wideband"), ("plug-1.csv", "run-1.csv", "plug"),
    ]  # fmt: skip
    shown = json.loads(buildlog("dyno", "sheet", "--json", at=car).out)
    shifts = {one["file"]: one["shift_s"] for one in shown["logs"]}
    known = {f"wideband-{n}.csv": 3.7 * n for n in (1, 2, 3)}
    known |= {f"plug-{n}.csv": -2.5 * n for n in (1, 2, 3)}
    assert shifts == pytest.approx(known, abs=0.1)
    assert {one["aligned_by"] for one in shown["logs"]} == {"road speed"}
    text = buildlog("dyno", "sheet", at=car).out
    assert "aligned by" in text
    assert "wideband: road speed, lambda" in text
    assert "engine speed recovered from the log plug" in text
    assert buildlog("record", "-m", "base", at=car).status == 0
    assert buildlog("verify", at=car).status == 0
    with opening.ledger(car) as ledger:
        told_in_full = content(Snapshot(ledger), None)
    assert loggers(told_in_full) == f"Beside the dyno, {VISIT}: wideband, plug."
    assert len(content_json(told_in_full)["sessions"][0]["logs"]) == 6


def test_one_stream_of_three_sweeps_beside_three_pulls(
    buildlog: Call, car: Path, raw: Path
) -> None:
    told = buildlog("dyno", "log", raw / "stream.csv", "--session", "base", "--json", at=car)
    assert told.status == 0, told.err
    found = json.loads(told.out)
    assert [one["pull"] for one in found["logs"]] == ["run-1.csv", "run-2.csv", "run-3.csv"]
    shifts = [one["shift_s"] for one in found["logs"]]
    assert shifts == pytest.approx([0, -60, -120], abs=0.1)
    assert [one["covered"] for one in found["logs"]] == [1, 1, 1]
    assert len(list((car / "dyno" / VISIT).glob("stream*"))) == 1


def test_a_log_beside_one_pull_of_three_by_the_pull_s_name(
    buildlog: Call, car: Path, raw: Path
) -> None:
    told = buildlog("dyno", "log", raw / "wideband-2.csv", "--pull", "run-2", at=car)
    assert told.status == 0, told.err
    (kept,) = session(car)["log"]
    assert kept["pull"] == "run-2.csv"


def test_a_session_that_is_recorded_takes_logs_in_a_correction(
    buildlog: Call, car: Path, raw: Path
) -> None:
    assert buildlog("record", "-m", "base", at=car).status == 0
    told = buildlog("dyno", "log", *wide(raw), at=car)
    assert told.status == 0, told.err
    line = 'next: buildlog record -m "other loggers: base" --kind correction --corrects 2'
    assert told.out.rstrip().endswith(line)
    done = buildlog(
        "record", "-m", "other loggers", "--kind", "correction", "--corrects", "2", at=car
    )
    assert done.status == 0, done.err
    assert buildlog("verify", at=car).status == 0


REFUSED: dict[str, tuple[list[str], str, str]] = {
    "nothing named": ([], "no file is named", "dyno log FILE"),
    "no such file": (["none.csv"], "there is no such file", "path"),
    "which pull": (["wideband-1.csv"], "it is not clear to which pull", '--pull "run-1.csv"'),
    "no such pull": (["wideband-1.csv", "--pull", "run-7"], 'no pull "run-7"', "run-"),
    "no such session": (["wideband-1.csv", "--session", "bass"], 'no session "bass"', VISIT),
    "nothing in both": (["lost.csv", "--pull", "run-1"], "no channel is in both", "--shift"),
    "no time": (["lost.csv", "--pull", "run-1", "--shift", "soon"], "soon", '--shift "3.7 s"'),
    "twice": (["wideband-1.csv", "wideband-1.csv"], "same bytes", "once"),
    "no column": (["wideband-1.csv", "--map", "lambda=L"], 'no column "L"', "lambda"),
}  # fmt: skip


@pytest.mark.parametrize("what", REFUSED)
def test_what_is_refused_says_why_and_what_to_write_and_writes_nothing(
    what: str, buildlog: Call, car: Path, raw: Path
) -> None:
    words, why, what_to_do = REFUSED[what]
    line = [str(raw / word) if word.endswith(".csv") else word for word in words]
    before = sorted(path.name for path in (car / "dyno" / VISIT).iterdir())
    told = buildlog("dyno", "log", *line, at=car)
    assert told.status != 0
    assert why in told.err
    assert what_to_do in told.err
    assert "Traceback" not in told.err
    assert sorted(path.name for path in (car / "dyno" / VISIT).iterdir()) == before
    assert "log" not in session(car)


def test_the_same_log_again_is_refused(buildlog: Call, car: Path, raw: Path) -> None:
    assert buildlog("dyno", "log", *wide(raw), at=car).status == 0
    told = buildlog("dyno", "log", raw / "wideband-1.csv", "--pull", "run-1", at=car)
    assert "lies beside run-1.csv already, as wideband-1.csv" in told.err


def test_one_file_beside_two_pulls_is_kept_once(buildlog: Call, car: Path, raw: Path) -> None:
    for pull_name, shift in (("run-1", "3.7 s"), ("run-2", "70 s")):
        line = ("--pull", pull_name, "--shift", shift)
        assert buildlog("dyno", "log", raw / "lost.csv", *line, at=car).status == 0
    assert [one["pull"] for one in session(car)["log"]] == ["run-1.csv", "run-2.csv"]
    assert {one["file"] for one in session(car)["log"]} == {"lost.csv"}


def test_where_nothing_tells_the_shift_it_is_asked(
    buildlog: Call, car: Path, raw: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    answers = iter(["a while", "1.0 s"])
    monkeypatch.setattr(common, "at_terminal", lambda: True)
    monkeypatch.setattr(click, "prompt", lambda *_, **__: next(answers))
    told = buildlog("dyno", "log", raw / "lost.csv", "--pull", "run-1", at=car)
    assert told.status == 0, told.err
    assert session(car)["log"][0]["shift"] == "1.0 s"
    assert "as stated" in told.out


@pytest.mark.parametrize("exists", [True, False])
def test_a_log_given_to_dyno_add_is_told_from_a_pull(
    exists: bool, buildlog: Call, car: Path, raw: Path
) -> None:
    name = "base" if exists else "other"
    told = buildlog(
        "dyno", "add", raw / "wideband-1.csv", "--session", name, "--date", "2026-03-14", at=car
    )
    assert told.status == 4
    assert "this is a log, not a pull" in told.err
    assert f"buildlog dyno log {raw}/wideband-1.csv --session 2026-03-14-{name}" in told.err
    assert ("buildlog dyno add PULL..." in told.err) == (not exists)
    assert not (car / "dyno" / "2026-03-14-other").exists()


def test_a_trace_of_a_roller_is_no_log(buildlog: Call, car: Path, raw: Path) -> None:
    import numpy as np

    t = np.arange(0, 10, 0.05)
    (raw / "drum.csv").write_bytes(table("time [s],roller speed [rpm]", t, 200 + 100 * t))
    told = buildlog("dyno", "add", raw / "drum.csv", "--session", "drum", at=car)
    assert "not a pull" not in told.err
    assert 'kind = "inertia"' in told.err


def test_the_library_writes_the_same(buildlog: Call, car: Path, raw: Path, tmp_path: Path) -> None:
    import buildlog as library

    other = Path(shutil.copytree(car, tmp_path / "other"))
    assert buildlog("dyno", "log", *wide(raw), at=car).status == 0
    with library.open(other) as opened:
        work = opened.edit()
        path = work.log(wide(raw), library.LogsSaid(session="base"))
        assert path == f"dyno/{VISIT}/session.toml"
        work.record("base", odometer="88412 mi")
    ours = {one.name: one.read_bytes() for one in (car / "dyno" / VISIT).iterdir()}
    assert {one.name: one.read_bytes() for one in (other / "dyno" / VISIT).iterdir()} == ours


def test_what_was_said_of_a_log_s_columns_is_kept_for_the_next_one(
    buildlog: Call, car: Path, raw: Path, tmp_path: Path
) -> None:
    for n in (1, 2):
        text = (raw / f"wideband-{n}.csv").read_text().replace("lambda", "probe B")
        (tmp_path / f"foreign-{n}.csv").write_text(text)
    first = buildlog("dyno", "log", tmp_path / "foreign-1.csv", "--pull", "run-1", "--map",
                     "lambda=probe B:lambda", at=car)  # fmt: skip
    assert first.status == 0, first.err
    second = buildlog("dyno", "log", tmp_path / "foreign-2.csv", "--pull", "run-2", at=car)
    assert second.status == 0, second.err
    assert "as said of such a file before" in second.out
    assert {c["channel"] for one in session(car)["log"] for c in one["column"]} >= {"lambda"}
    assert all("lambda" in {c["channel"] for c in one["column"]} for one in session(car)["log"])


def test_a_log_too_large_to_enter_says_how_it_is_kept(
    buildlog: Call, car: Path, raw: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from buildlog.desk.acts.dyno import dyno_intake

    monkeypatch.setattr(dyno_intake, "LARGEST_FILE", 1000)
    told = buildlog("dyno", "log", raw / "wideband-1.csv", "--pull", "run-1", at=car)
    assert told.status == 4
    line = f"buildlog attach --outside {raw / 'wideband-1.csv'}"
    assert line in " ".join(told.err.split())
    kept = buildlog(*line.split()[1:], at=car)
    assert kept.status == 0, kept.err
