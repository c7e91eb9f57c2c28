"""A stage's report is that of the job, whichever of its entries carries the name."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from buildlog.records.toml import toml_write
from tests.builders import SESSION, pull_csv
from tests.cli.dyno_ledger import dyno_ledger
from tests.conftest import Call


def ok(buildlog: Call, folder: Path, *arguments: str) -> str:
    done = buildlog(*arguments, at=folder)
    assert done.status == 0, done.err
    return done.out


def measure(folder: Path, day: str, peaks: tuple[float, ...]) -> None:
    """A session in the working files."""
    place = folder / "dyno" / f"{day}-after"
    place.mkdir(parents=True)
    import datetime as dt

    values = {**SESSION, "date": dt.date.fromisoformat(day), "pull": []}
    for number, peak in enumerate(peaks, 1):
        (place / f"pull-{number}.csv").write_bytes(pull_csv(peak, seed=20 + number))
        values["pull"].append({"file": f"pull-{number}.csv"})
    (place / "session.toml").write_bytes(toml_write.write(values))


@pytest.fixture(scope="module")
def baseline(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("job") / "car"
    return dyno_ledger(folder, [("baseline", {"peaks": [100e3, 100.5e3, 99.8e3]})])


def job(baseline: Path, folder: Path, buildlog: Call, named: tuple[str, str]) -> str:
    """Work, a second piece of work, then the dyno; what `record` said last."""
    shutil.copytree(baseline, folder)
    at = "--date"
    ok(buildlog, folder, "set", "exhaust.pipe_diameter=70 mm")
    ok(buildlog, folder, "record", "-m", "Exhaust", at, "2026-03-10", *_stage(named[0]))
    ok(buildlog, folder, "set", "calibration.id=T-2")
    ok(buildlog, folder, "record", "-m", "Calibration", at, "2026-03-11")
    measure(folder, "2026-03-12", (108e3, 108.4e3, 107.9e3))
    done = buildlog("record", "-m", "On the dyno", at, "2026-03-12", *_stage(named[1]), at=folder)
    assert done.status == 0, done.err
    return done.out + done.err


def _stage(name: str) -> tuple[str, ...]:
    return ("--stage", name) if name else ()


def test_the_same_page_whichever_entry_is_named(
    baseline: Path, tmp_path: Path, buildlog: Call
) -> None:
    pages, bodies = [], []
    for number, named in enumerate([("stage-1", ""), ("", "stage-1")]):
        folder = tmp_path / str(number)
        assert "already" not in job(baseline, folder, buildlog, named)
        page = ok(buildlog, folder, "report", "stage-1")
        pages.append(page.partition("Unbroken")[0])
        bodies.append(json.loads(ok(buildlog, folder, "report", "stage-1", "--json")))
    assert pages[0] == pages[1]
    for body in bodies:
        stage = body["stages"][0]
        assert [one["subject"] for one in stage["entries"]] == [
            "Exhaust", "Calibration", "On the dyno"]  # fmt: skip
        assert stage["name"] == "stage-1"
        assert stage["version"]["entry"] == 5
        assert body["gain"]["measured"]["power"]["peak_delta"] == pytest.approx(8e3, rel=0.1)
    text = " ".join(pages[0].split())
    assert "session 2026-03-12-after" in text
    assert "Mean of 3 pulls: " in text
    assert "Best single pull: " in text


def test_a_second_name_for_one_job_is_told(baseline: Path, tmp_path: Path, buildlog: Call) -> None:
    said = " ".join(job(baseline, tmp_path / "car", buildlog, ("parts", "dyno")).split())
    assert 'entry 3 names this job "parts" already' in said
    told = [json.loads(ok(buildlog, tmp_path / "car", "report", name, "--json"))["gain"]["measured"]
            ["power"]["peak_delta"] for name in ("parts", "dyno")]  # fmt: skip
    assert told[0] == told[1]


def test_the_first_two_sentences_can_be_read_out(
    baseline: Path, tmp_path: Path, buildlog: Call
) -> None:
    job(baseline, tmp_path / "car", buildlog, ("stage-1", ""))
    lines = ok(buildlog, tmp_path / "car", "report", "stage-1", "--units", "us").splitlines()
    lead = " ".join(lines[lines.index("") :][1:4])
    first, second = lead.split(". ")[:2]
    assert first.startswith("Your car now makes 1")
    assert " more than before, give or take " in first
    assert "±" not in lead
    assert second
