"""The main job on the demo: the same entries on every machine, history, show, plot, verify."""

from __future__ import annotations

import json
import re
import subprocess
from pathlib import Path

import pytest

from buildlog.records.recorded_promise import recorded_promise
from tests.conftest import ROOT, Call

IDS = (ROOT / "tests" / "demo_entry_ids.txt").read_text(encoding="utf-8").split()
HISTORY_KEYS = {
    "entry", "id", "kind", "stage", "date", "odometer_km", "subject", "peak_wheel_power_w",
}  # fmt: skip


def git(folder: Path, *arguments: str) -> str:
    done = subprocess.run(
        ["git", "-C", str(folder), *arguments], capture_output=True, text=True, check=True
    )
    return done.stdout


def test_entry_ids_are_the_same_on_every_machine(demo: Path) -> None:
    """A change here means that earlier demo ledgers and this one part ways: is it meant?"""
    assert git(demo, "log", "--reverse", "--format=%H").split() == IDS


def test_the_recipe_holds_the_promise_that_the_program_makes(demo: Path, buildlog: Call) -> None:
    """The quote's figures are written down, and are those of the configuration that was built."""
    trailer = git(demo, "log", "-1", "--format=%(trailers:key=Promised,valueonly,unfold)", IDS[4])
    stored = recorded_promise(trailer.strip())
    assert stored is not None
    assert stored.power is not None
    found = json.loads(buildlog("predict", "stage-1", "stage-2", "--json", "--ledger", demo).out)
    for end in ("p10", "p50", "p90"):
        gain = getattr(stored.power, end) - stored.power.before
        assert gain == pytest.approx(found["peak_power"][end], rel=0.02)


def test_the_promise_is_met(demo: Path, buildlog: Call) -> None:
    told = " ".join(buildlog("report", "stage-2", "--ledger", demo).out.split())
    assert "Promised and delivered, stage-1 to stage-2" in told
    assert "peak power +51 to +82 hp +60.2 ± 5.6 hp inside" in told
    assert "Quoted 10 April 2026, accepted 14 April 2026 by phone." in told


def test_a_built_plan_says_where_and_waits_for_nothing(demo: Path, buildlog: Call) -> None:
    told = buildlog("plan", "list", "--ledger", demo).out
    assert re.search(r"turbo-kit +from stage-1 +built in entry 5 +13,960.00 USD", told)
    assert "wait to be built" in buildlog("plan", "compare", "--ledger", demo).out
    asked = json.loads(buildlog("plan", "list", "--json", "--ledger", demo).out)
    assert [one["built_in"] for one in asked["plans"]] == [5]


def test_one_key_is_retired_and_the_other_signs(demo: Path, buildlog: Call) -> None:
    told = buildlog("key", "list", "--ledger", demo).out
    assert re.search(r"bench 1 +5 signed +the key was retired in entry 15", told)
    assert re.search(r"bench 2 +2 signed +in use", told)
    body = json.loads(buildlog("verify", "--json", "--ledger", demo).out)
    assert {one["name"]: one["held"] for one in body["checks"]}["signatures"]


def test_the_second_logger_lies_where_it_was_put(demo: Path, buildlog: Call) -> None:
    """Its clock is 7.2, 6.6 and 8.1 s ahead in `demo_vehicle/make_curves.py`."""
    body = json.loads(buildlog("dyno", "sheet", "05-09", "--json", "--ledger", demo).out)
    shifts = [one["shift_s"] for one in body["logs"]]
    assert shifts == pytest.approx([-7.2, -6.6, -8.1], abs=0.1)
    assert {one["aligned_by"] for one in body["logs"]} == {"engine speed"}


def test_plain_git_agrees(demo: Path) -> None:
    assert git(demo, "status", "--porcelain") == ""
    git(demo, "fsck", "--full", "--strict")
    assert len(git(demo, "tag", "--list", "stage/*").split()) == 5


def test_history_json(demo: Path, buildlog: Call) -> None:
    body = json.loads(buildlog("history", "--json", "--ledger", demo).out)
    assert next(iter(body)) == "format"
    assert body["format"] == "buildlog/history/1"
    entries = body["entries"]
    assert [entry["id"] for entry in entries] == IDS
    assert [entry["entry"] for entry in entries] == [*range(1, len(IDS) + 1)]
    assert all(entry.keys() >= HISTORY_KEYS for entry in entries)
    baseline = entries[1]
    assert baseline["stage"] == "baseline"
    assert baseline["odometer_km"] == pytest.approx(88318 * 1.609344)
    assert baseline["peak_wheel_power_w"] == pytest.approx(105_700, rel=0.005)
    assert entries[0]["peak_wheel_power_w"] is None


def test_the_recorded_peak_is_the_sheets(demo: Path, buildlog: Call) -> None:
    body = json.loads(buildlog("history", "--json", "--ledger", demo).out)
    peaks = {entry["stage"]: entry["peak_wheel_power_w"] for entry in body["entries"]}
    diff = json.loads(buildlog("diff", "stage-1", "stage-2", "--json", "--ledger", demo).out)
    power = diff["measured"]["power"]
    assert peaks["stage-1"] == pytest.approx(power["peak_from"]["value"], abs=1)
    assert peaks["stage-2"] == pytest.approx(power["peak_to"]["value"], abs=1)


def test_history_as_text(demo: Path, buildlog: Call) -> None:
    lines = buildlog("history", "--ledger", demo).out.splitlines()
    assert lines[0].startswith("16 entries, at stage-2-recheck")
    assert re.search(r"^ 5 .* build \+ +Stage 2 parts", "\n".join(lines), re.MULTILINE)
    assert lines[2].split() == ["id", "date", "mi", "kind", "hp", "what"]
    assert [line.split()[0] for line in lines[3:19]] == [str(n) for n in range(16, 0, -1)]
    assert all(len(line) <= 80 for line in lines)
    for number, line in zip(range(16, 0, -1), lines[3:19], strict=True):
        assert IDS[number - 1][:8] in line
    metric = buildlog("history", "--units", "metric", "--ledger", demo).out
    assert metric.splitlines()[2].split() == ["id", "date", "km", "kind", "kW", "what"]


def test_history_in_full_marks_what_was_corrected(demo: Path, buildlog: Call) -> None:
    out = buildlog("history", "--full", "--ledger", demo).out
    assert "build +" in out
    assert "+ corrected by a later entry" in out
    assert "..." not in out


def test_show_json(demo: Path, buildlog: Call) -> None:
    body = json.loads(buildlog("show", "stage-1", "--json", "--ledger", demo).out)
    assert body["version"]["stage"] == "stage-1"
    bore = body["fields"]["engine.bore"]
    assert bore["unit"] == "mm"
    assert bore["since"]["entry"] == 1
    assert bore["found"] is True
    assert body["fields"]["exhaust.headers.kind"]["since"]["entry"] == 3
    assert body["fields"]["exhaust.headers.kind"]["found"] is False


def test_show_at_a_version_shows_that_version(demo: Path, buildlog: Call) -> None:
    def kind(version: str) -> str:
        out = buildlog("show", version, "--json", "--ledger", demo).out
        return str(json.loads(out)["fields"]["induction.kind"]["text"])

    assert kind("stage-1") == "naturally-aspirated"
    assert kind("stage-2") == kind("9") == kind(IDS[8][:8]) == kind("working") == "turbocharger"


def test_show_one_assembly_and_one_life(demo: Path, buildlog: Call) -> None:
    out = buildlog("show", "--assembly", "clutch", "--ledger", demo).out
    assert "rated torque" in out
    assert "engine" not in out
    life = buildlog("show", "--at", "calibration.id", "--ledger", demo).out
    assert life.startswith("calibration.id is T26-004")
    for name in ("T26-002", "T26-003", "T26-004"):
        assert name in life


def test_a_field_that_does_not_exist_names_the_nearest(demo: Path, buildlog: Call) -> None:
    outcome = buildlog("show", "--at", "engine.boer", "--ledger", demo)
    assert outcome.status == 4
    assert "engine.bore" in outcome.err
    never = buildlog("show", "--at", "engine.displacement", "--ledger", demo)
    assert never.status == 0
    assert "never given" in never.out


def test_the_vin_stands_by_its_end_only(demo_copy: Path, buildlog: Call) -> None:
    import tomllib

    vin = tomllib.loads((demo_copy / "car.toml").read_text("utf-8"))["car"]["vin"]
    calls = [["show"], ["show", "--json"], ["show", "--at", "car.vin"], ["diff", "first", "latest"],
             ["set", f"car.vin={vin[:-1]}8"], ["diff"], ["diff", "--json", "latest", "working"],
             ["record", "-m", "x", "--dry-run"], ["history", "--json"]]  # fmt: skip
    for arguments in calls:
        outcome = buildlog(*arguments, at=demo_copy)
        assert vin[:-1] not in outcome.out + outcome.err, arguments


@pytest.mark.parametrize("ending", ["png", "svg", "pdf"])
def test_plot_has_the_same_bytes_twice(
    ending: str, demo: Path, tmp_path: Path, buildlog: Call
) -> None:
    files = [tmp_path / f"{n}.{ending}" for n in (1, 2)]
    for file in files:
        outcome = buildlog("plot", "baseline", "stage-1", "--out", file, "--ledger", demo)
        assert outcome.status == 0
        assert f"wrote {file}" in outcome.out
    assert files[0].read_bytes() == files[1].read_bytes()


def test_plot_of_everything_that_was_measured(demo: Path, tmp_path: Path, buildlog: Call) -> None:
    outcome = buildlog("plot", "--what", "torque", "--out", tmp_path / "t.svg", "--ledger", demo)
    assert outcome.status == 0


def test_plot_names_versions_that_were_not_measured(
    demo: Path, tmp_path: Path, buildlog: Call
) -> None:
    outcome = buildlog("plot", "5", "stage-2", "--out", tmp_path / "p.png", "--ledger", demo)
    assert outcome.status == 0
    assert "entry 5: no dyno session measured it" in outcome.out
    alone = buildlog("plot", "5", "--out", tmp_path / "q.png", "--ledger", demo)
    assert alone.status == 1
    assert not (tmp_path / "q.png").exists()


def test_verify_finds_the_demo_intact(demo: Path, buildlog: Call) -> None:
    body = json.loads(buildlog("verify", "--json", "--ledger", demo).out)
    assert body["format"] == "buildlog/verify/1"
    assert body["verdict"] in {"intact", "consistent"}
    assert {"checks", "proves", "does_not_prove"} <= body.keys()
    assert buildlog("verify", demo).status in {0, 1}


def test_the_demo_command_shows_the_main_job(tmp_path: Path, buildlog: Call) -> None:
    outcome = buildlog("demo", "car", at=tmp_path)
    assert outcome.status == 0
    for piece in ("$ buildlog history", "$ buildlog diff", "$ buildlog plot", "larger than the"):
        assert piece in outcome.out
    assert any(path.suffix == ".png" for path in tmp_path.rglob("*.png"))
    assert git(tmp_path / "car", "log", "--reverse", "--format=%H").split() == IDS


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion(shell: str, buildlog: Call) -> None:
    outcome = buildlog("completion", shell)
    assert outcome.status == 0
    assert "_BUILDLOG_COMPLETE" in outcome.out
    assert "put it in" in outcome.err


def test_schema_is_printed_as_it_is_kept(buildlog: Call) -> None:
    for name in ("car", "session", "check", "checklist", "fault", "torque"):
        kept = (ROOT / "shared" / "schemas" / f"{name}.schema.json").read_text("utf-8")
        assert buildlog("schema", name).out == kept
    assert json.loads(buildlog("schema").out)["$id"] == "urn:buildlog:schema:car:1"
