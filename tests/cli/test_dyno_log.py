"""`dyno log` from end to end: which pull, which session, what is asked, all files or none."""

from __future__ import annotations

import hashlib
import json
import shutil
import tomllib
from pathlib import Path
from typing import Any

import click
import numpy as np
import pytest

from buildlog.analysis.pulls import log_minutes
from buildlog.cli import common
from buildlog.desk.acts.dyno import dyno_intake
from buildlog.desk.give.booklet_content import content
from buildlog.desk.snapshot import opening
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.rawfiles.propose import propose
from buildlog.report.booklet.front import loggers
from buildlog.report.booklet.jsonout import content_json
from buildlog.store.disk import outside_files
from tests.conftest import Call
from tests.logger_files import KMH_PER_RPM, Logger, engine_speed, mixture, pull, table

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


def drive(rate: float, pulls: dict[float, int], heads: str, minutes: float = 20.0) -> bytes:
    """A log of a whole drive: each of the pulls (seed by its second) among idling, at a rate."""
    rng = np.random.default_rng(9)
    t = np.arange(0.0, 60 * minutes, 1 / rate)
    n, mix = np.full(t.size, 900.0), np.full(t.size, 1.0)
    for begin in pulls:
        here = (t >= begin - 3) & (t < begin + 14)
        n[here], mix[here] = engine_speed(t[here] - begin), mixture(t[here] - begin)
    n += rng.normal(0, 10, t.size)
    known = {
        "time [s]": t, "rpm": n, "speed [km/h]": n * KMH_PER_RPM, "lambda": mix,
        "word": 0 * t + 1,
    }  # fmt: skip
    return table(heads, *(known[name] for name in heads.split(",")))


def sheet_of(buildlog: Call, car: Path) -> Any:
    return json.loads(buildlog("dyno", "sheet", "--json", at=car).out)


@pytest.fixture
def too_large(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> int:
    """What is too large in this test: 25 MB would take a minute to write."""
    monkeypatch.setenv("BUILDLOG_OUTSIDE", str(tmp_path / "outside"))
    monkeypatch.setattr(dyno_intake, "LARGEST_FILE", 100_000)
    monkeypatch.setattr(log_minutes, "MOST", 4_000)  # one row in six: 3 a second
    return 100_000


def test_of_a_log_too_large_the_minutes_of_the_pulls_enter_and_the_whole_stays_outside(
    buildlog: Call, car: Path, tmp_path: Path, too_large: int
) -> None:
    """Twenty minutes at 20 Hz over three pulls: laid where a small log is laid, at full rate."""
    begins = {200.0: 1, 560.5: 2, 1000.25: 3}
    data = drive(20, begins, "time [s],speed [km/h],lambda")
    log = tmp_path / "drive.csv"
    log.write_bytes(data)
    assert len(data) > too_large
    told = buildlog("dyno", "log", log, at=car)
    assert told.status == 0, told.err
    said = "drive.csv (too large: the minutes of the pulls enter as drive-minutes.csv, the whole"
    assert said in " ".join(told.out.split())
    assert "--one-run" not in told.out
    kept = session(car)["log"]
    digest = hashlib.sha256(data).hexdigest()
    assert [(one["file"], one["pull"]) for one in kept] == [
        ("drive-minutes.csv", f"run-{n}.csv") for n in (1, 2, 3)
    ]
    assert {(one["outside_sha256"], one["outside_size"]) for one in kept} == {(digest, len(data))}
    assert outside_files.is_whole(outside_files.find(digest) or Path(), digest)
    entered = (car / "dyno" / VISIT / "drive-minutes.csv").read_text().splitlines()
    assert entered[0] == "# reduced: the minutes of the pulls of drive.csv at full rate"
    assert set(entered[5:]) <= set(data.decode().splitlines())  # to the digit
    rows = [float(line.split(",")[0]) for line in entered[6:]]
    # By hand: a pull lasts 10 s, and a minute is kept on both sides of each.
    assert len(rows) == pytest.approx(3 * 130 * 20, abs=3 * 20)
    for begin in begins:
        assert min(abs(t - (begin - 60)) for t in rows) < 0.5
        assert min(abs(t - (begin + 70)) for t in rows) < 0.5
    laid = sheet_of(buildlog, car)["logs"]
    assert [one["shift_s"] for one in laid] == pytest.approx([-t for t in begins], abs=0.1)
    assert [one["covered"] for one in laid] == [1, 1, 1]
    assert [one["rows_per_second"] for one in laid] == pytest.approx([20] * 3)
    assert buildlog("record", "-m", "base", at=car).status == 0
    assert buildlog("verify", at=car).status == 0
    outside_files.delete(digest)
    away = json.loads(buildlog("verify", "--json", at=car).out)
    assert "dyno/2026-03-14-base/drive-minutes.csv" in str(away)
    leaves = " ".join(buildlog("handover", tmp_path / "given", "--dry-run", at=car).out.split())
    assert f"the whole of dyno/{VISIT}/drive-minutes.csv" in leaves


def test_a_large_log_beside_one_pull_is_told_once(
    buildlog: Call, car: Path, tmp_path: Path, too_large: int
) -> None:
    log = tmp_path / "drive.csv"
    log.write_bytes(drive(20, {333.0: 2}, "time [s],speed [km/h],rpm,lambda", 12))
    told = buildlog("dyno", "log", log, "--pull", "run-2", at=car)
    assert told.status == 0, told.err
    assert sheet_of(buildlog, car)["logs"][0]["shift_s"] == pytest.approx(-333, abs=0.1)
    again = buildlog("dyno", "log", log, "--pull", "run-2", at=car)
    assert again.status == 4
    assert "this log lies beside run-2.csv already, as drive-minutes.csv" in again.err
    assert len(session(car)["log"]) == 1


def test_a_large_log_by_a_stated_shift_and_by_speed_alone(
    buildlog: Call, car: Path, tmp_path: Path, too_large: int
) -> None:
    """Without a speed of its own by what is stated; without time by the rise, and as much again."""
    for name, heads in (("wide", "time [s],lambda,word"), ("plain", "speed [km/h],lambda,word")):
        (tmp_path / f"{name}.csv").write_bytes(drive(20, {333.0: 1}, heads, 12))
    refused = buildlog("dyno", "log", tmp_path / "wide.csv", "--pull", "run-1", at=car)
    assert refused.status == 4
    assert '--shift "3.7 s"' in refused.err
    assert "log" not in session(car)
    assert not list((tmp_path / "outside").rglob("*.csv"))
    done = buildlog("dyno", "log", tmp_path / "wide.csv", "--pull", "run-1", "--shift", "-333 s",
                    at=car)  # fmt: skip
    assert done.status == 0, done.err
    done = buildlog("dyno", "log", tmp_path / "plain.csv", "--pull", "run-1", at=car)
    assert done.status == 0, done.err
    by = {one["file"]: (one["aligned_by"], one["covered"]) for one in
          sheet_of(buildlog, car)["logs"]}  # fmt: skip
    assert by["wide-minutes.csv"] == ("as stated", 1)
    assert by["plain-minutes.csv"][0] == "road speed, row by row"
    assert by["plain-minutes.csv"][1] > 0.9


def test_a_large_log_of_which_nothing_tells_where_its_pulls_lie_is_refused(
    buildlog: Call, car: Path, tmp_path: Path, too_large: int
) -> None:
    (tmp_path / "odd.csv").write_bytes(drive(20, {333.0: 1}, "lambda,word", 14))
    told = buildlog("dyno", "log", tmp_path / "odd.csv", "--pull", "run-1", at=car)
    assert told.status == 4
    assert "--map time=COLUMN:s" in " ".join(told.err.split())
    assert "log" not in session(car)


def test_a_sketch_holds_a_channel_that_is_written_in_other_rows_than_the_next() -> None:
    """One parameter a row, in turn: whatever is kept of so many rows, both are in it."""
    rows = [f"{n / 10},{1000 + n if n % 2 else ''},{'' if n % 2 else 50}" for n in range(200)]
    data = "\n".join(["time [s],rpm,speed [km/h]", *rows, ""]).encode()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(log_minutes, "MOST", 50)
        drawn = log_minutes.sketch(data, propose(data, "turns.csv"))
    assert (drawn.every, drawn.rows) == (4, 200)
    assert all(np.isfinite(one).all() for one in drawn.channels.values())
    assert drawn.channels["engine_speed"].size == 50
    assert drawn.lines((1, 200)) == (2, 201)
