"""Starting a ledger, editing it, recording: the sixty seconds of a technician."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from buildlog.desk.acts.new_car import template
from buildlog.desk.snapshot import settings
from buildlog.records.car.configuration import Configuration
from buildlog.records.reading import read
from tests.conftest import ROOT, Call


@pytest.fixture
def car(tmp_path: Path, buildlog: Call) -> Path:
    folder = tmp_path / "tern"
    assert buildlog("new", folder, "--name", "Marrow Tern", "--year", "1994").status == 0
    return folder


def log(folder: Path, form: str) -> list[str]:
    done = subprocess.run(
        ["git", "-C", str(folder), "log", "--reverse", f"--format={form}"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    return done.stdout.splitlines()


def test_from_nothing_to_a_diff(car: Path, buildlog: Call) -> None:
    assert buildlog("history", at=car).out.startswith("nothing is recorded yet")
    first = buildlog("record", "-m", "as it came", "--odometer", "88312 mi", at=car)
    assert first.status == 0
    assert "recorded: entry 1, " in first.out
    assert buildlog("set", "engine.bore=84.0 mm", "engine.cylinders=6", at=car).status == 0
    done = buildlog("record", "-m", "measured", "--stage", "stage-1", "--json", at=car)
    body = json.loads(done.out)
    assert (body["entry"], body["kind"]) == (2, "build")
    diff = json.loads(buildlog("diff", "first", "stage-1", "--json", at=car).out)
    assert [change["path"] for change in diff["changes"]] == ["engine.cylinders", "engine.bore"]
    assert log(car, "%s") == ["as it came", "measured"]
    assert log(car, "%an")[0] == "shop without a name"
    kinds = [
        entry["kind"] for entry in json.loads(buildlog("history", "--json", at=car).out)["entries"]
    ]
    assert kinds == ["found", "build"]


def test_the_car_is_found_from_a_folder_inside(car: Path, buildlog: Call) -> None:
    (car / "attachments").mkdir(exist_ok=True)
    assert buildlog("set", "engine.bore=84 mm", at=car / "attachments").status == 0
    assert 'bore = "84 mm"' in (car / "car.toml").read_text()


def test_the_ledger_may_be_named_in_the_environment(
    car: Path, tmp_path: Path, buildlog: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BUILDLOG_LEDGER", str(car))
    assert buildlog("history", at=tmp_path).status == 0


@pytest.mark.parametrize("units", ["us", "metric"])
def test_every_commented_line_of_the_template_is_valid(units: str) -> None:
    """Take away every # in front of a table or a value: the file must still be read."""
    lines = []
    for line in template("Marrow Tern", None, None, None, units).splitlines():
        bare = line.removeprefix("# ")
        is_toml = bare != line and (bare.startswith("[") or " = " in bare) and '"..."' not in bare
        lines.append(bare if is_toml else line)
    record = read(Configuration, "\n".join(lines).encode(), "car.toml")
    assert record.final_drive is not None
    assert record.clutch is not None
    assert record.engine is not None
    assert str(record.engine.bore) == {"us": "3.307 in", "metric": "84.0 mm"}[units]


@pytest.mark.parametrize(
    ("power_source", "has", "has_not"),
    [
        ("electric", "rated_power", ("cylinders", "ron =", "clutch", "exhaust", "boost")),
        ("compression-ignition", '"diesel"', ("ron =", "gasoline", "injectors")),
        ("spark-ignition", "ron =", ("diesel",)),
    ],
)
def test_the_template_fits_what_drives_the_car(
    power_source: str, has: str, has_not: tuple[str, ...]
) -> None:
    text = template("Marrow Tern", None, None, power_source, "metric")
    assert has in text
    assert not [word for word in has_not if word in text]
    bare = "\n".join(
        line.removeprefix("# ") if line.startswith("# [") or " = " in line else line
        for line in text.replace('# vin = "..."', "#").splitlines()
    )
    assert read(Configuration, bare.encode(), "car.toml").final_drive is not None


def test_both_templates_describe_one_car() -> None:
    """What stands beside each other in the two unit systems is the same size."""
    from buildlog.desk.acts.new_car import _EXAMPLES
    from buildlog.units import DIMENSIONS, parse

    for name, text in _EXAMPLES["us"].items():
        one, other = (parse(t, sorted(DIMENSIONS)) for t in (text, _EXAMPLES["metric"][name]))
        if one.dimension == other.dimension:
            assert one.si == pytest.approx(other.si, rel=0.02), name


@pytest.mark.parametrize("name", ['a "quoted" car', "back\\slash", "Größe 2.6", "x" * 240])
def test_any_name_survives(name: str, tmp_path: Path, buildlog: Call) -> None:
    assert buildlog("new", tmp_path / "car", "--name", name).status == 0
    assert tomllib.loads((tmp_path / "car" / "car.toml").read_text("utf-8"))["car"]["name"] == name


def test_new_from_a_file(tmp_path: Path, buildlog: Call) -> None:
    source = tmp_path / "old.toml"
    source.write_text('format = 1\n# kept\n[car]\nname = "x"\n')
    assert buildlog("new", tmp_path / "car", "--from", source).status == 0
    assert (tmp_path / "car" / "car.toml").read_bytes() == source.read_bytes()


def test_the_shop_is_kept_in_the_settings_and_put_on_each_entry(
    tmp_path: Path, buildlog: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BUILDLOG_CONFIG", str(tmp_path / "settings.toml"))
    buildlog("new", tmp_path / "car", "--name", "x", "--shop", "Quarry Lane Motors")
    buildlog("record", "-m", "as it came", at=tmp_path / "car")
    assert log(tmp_path / "car", "%an") == ["Quarry Lane Motors"]
    assert log(tmp_path / "car", "%ae")[0].endswith(".invalid")


def test_set_keeps_comments_and_says_what_changed(demo_copy: Path, buildlog: Call) -> None:
    before = (demo_copy / "car.toml").read_text()
    outcome = buildlog("set", "engine.bore=84.5 mm", at=demo_copy)
    assert "engine.bore: 84.0 mm -> 84.5 mm" in outcome.out
    after = (demo_copy / "car.toml").read_text()
    changed = [pair for pair in zip(before.splitlines(), after.splitlines(), strict=True)
               if pair[0] != pair[1]]  # fmt: skip
    assert len(changed) == 1
    assert "84.5 mm" in changed[0][1]


def test_set_of_the_same_bore_in_inches_is_no_change(demo_copy: Path, buildlog: Call) -> None:
    outcome = buildlog("set", "engine.bore=3.307 in", at=demo_copy)
    assert "the same as before, physically" in outcome.out
    assert 'bore = "3.307 in"' in (demo_copy / "car.toml").read_text()


def test_set_removes_a_field(demo_copy: Path, buildlog: Call) -> None:
    outcome = buildlog("set", "engine.bore=", at=demo_copy)
    assert "engine.bore: 84.0 mm -> -" in outcome.out
    assert "bore" not in tomllib.loads((demo_copy / "car.toml").read_text())["engine"]


def test_set_of_what_the_calibration_was_written_for(demo_copy: Path, buildlog: Call) -> None:
    outcome = buildlog("set", 'calibration.written_for."engine.bore"=84.0 mm', at=demo_copy)
    assert outcome.status == 0
    table = tomllib.loads((demo_copy / "car.toml").read_text())["calibration"]["written_for"]
    assert table["engine.bore"] == "84.0 mm"


def test_a_dry_run_records_nothing(demo_copy: Path, buildlog: Call) -> None:
    buildlog("set", "engine.bore=84.5 mm", at=demo_copy)
    outcome = buildlog("record", "-m", "rebored", "--dry-run", "--date", "2026-07-01", at=demo_copy)
    assert outcome.status == 0
    assert "bore" in outcome.out
    assert "nothing was recorded (--dry-run)" in outcome.out
    assert len(log(demo_copy, "%H")) == 16


def test_record_keeps_every_fact(demo_copy: Path, buildlog: Call) -> None:
    buildlog("set", "engine.bore=84.5 mm", at=demo_copy)
    outcome = buildlog(
        "record", "-m", "rebored", "--notes", "two lines\nof notes", "--stage", "stage-3",
        "--odometer", "90000 mi", "--date", "2026-07-01", "--done-by", "D-07", "--approved-by",
        "D-01", at=demo_copy,
    )  # fmt: skip
    assert outcome.status == 0, outcome.err
    text = "\n".join(log(demo_copy, "%B%n")[-20:])
    trailers = (
        "Entry-kind: build", "Stage: stage-3", "Odometer: 90000 mi", "Done-by: D-07",
        "Work-date: 2026-07-01", "Approved-by: D-01", "Changed: engine bore",
    )  # fmt: skip
    for trailer in trailers:
        assert trailer in text
    assert "of notes" in text


def test_a_correction_names_what_it_corrects(demo_copy: Path, buildlog: Call) -> None:
    buildlog("set", "engine.bore=84.5 mm", at=demo_copy)
    done = buildlog("record", "-m", "bore was 84.5", "--corrects", "stage-2", "--date",
                    "2026-07-01", "--json", at=demo_copy)  # fmt: skip
    assert json.loads(done.out)["kind"] == "correction"
    entries = json.loads(buildlog("history", "--json", at=demo_copy).out)["entries"]
    stage = next(entry for entry in entries if entry["stage"] == "stage-2")
    assert entries[-1]["corrects"] == stage["id"]


def test_a_session_beside_a_changed_car_needs_a_word(demo_copy: Path, buildlog: Call) -> None:
    import shutil

    source = next((demo_copy / "dyno").glob("*-baseline"))
    shutil.copytree(source, demo_copy / "dyno" / "2026-07-01-again")
    buildlog("set", "engine.bore=84.5 mm", at=demo_copy)
    call = ["record", "-m", "x", "--odometer", "90000 mi", "--date", "2026-07-01"]
    refused = buildlog(*call, at=demo_copy)
    assert refused.status == 4
    assert "--session-is-new-configuration" in refused.err
    assert buildlog(*call, "--session-is-new-configuration", at=demo_copy).status == 0


def test_a_dry_run_refuses_what_recording_would(demo_copy: Path, buildlog: Call) -> None:
    buildlog("set", "engine.bore=84.5 mm", at=demo_copy)
    for extra, words in (
        (("--odometer", "100 mi"), "is below that of entry"),
        (("--odometer", "90000"), "is not a distance"),
        (("--date", "2026-01-01"), "is before that of entry"),
        (("--stage", "As built"), "the stage name"),
    ):
        outcome = buildlog("record", "-m", "rebored", "--dry-run", *extra, at=demo_copy)
        assert outcome.status == 4, extra
        assert words in outcome.err


def test_a_day_that_lies_ahead_is_refused(demo_copy: Path, buildlog: Call) -> None:
    buildlog("set", "engine.bore=84.5 mm", at=demo_copy)
    for dry in ((), ("--dry-run",)):
        outcome = buildlog("record", "-m", "rebored", "--date", "2999-01-01", *dry, at=demo_copy)
        assert outcome.status == 4
        assert "the date 2999-01-01 lies ahead" in outcome.err
    assert len(log(demo_copy, "%H")) == 16


def test_an_entry_takes_day_and_odometer_from_the_files_it_records(
    demo_copy: Path, buildlog: Call
) -> None:
    said = ("--odometer", "89600 mi", "--date", "2026-07-03")
    assert buildlog("fault", "add", "squeal at idle", *said, at=demo_copy).status == 0
    assert buildlog("record", "-m", "squeal at idle", at=demo_copy).status == 0
    newest = json.loads(buildlog("history", "--json", at=demo_copy).out)["entries"][-1]
    assert newest["date"] == "2026-07-03"
    assert newest["odometer_km"] == pytest.approx(89600 * 1.609344)


@pytest.mark.parametrize(
    "call",
    [
        ("set", "calibration.id=..."),
        ("record", "-m", "..."),
        ("fault", "close", "--remedy", "..."),
        ("set", 'tyres.made="..."'),
    ],
)
def test_a_hint_pasted_with_its_dots_is_refused(
    call: tuple[str, ...], demo_copy: Path, buildlog: Call
) -> None:
    before = (demo_copy / "car.toml").read_bytes()
    outcome = buildlog(*call, at=demo_copy)
    assert outcome.status == 2
    assert "stand for what only you know" in outcome.err
    assert (demo_copy / "car.toml").read_bytes() == before


def test_the_first_lines_of_an_empty_ledger(tmp_path: Path, buildlog: Call) -> None:
    folder = tmp_path / "my tern"
    begun = buildlog("new", folder, "--name", "Marrow Tern")
    assert begun.out.splitlines()[-1] == f"next: cd '{folder}' && buildlog check"
    asked = buildlog("diff", at=folder)
    assert asked.status == 3
    assert asked.err.startswith("nothing is recorded yet")
    assert "--kind found" in asked.err
    buildlog("record", "-m", "as it came")
    newest = buildlog("history").out.splitlines()[0]
    assert newest.startswith("1 entry, ")
    assert newest.endswith("odometer unknown")


@pytest.mark.parametrize(
    ("typed", "hint"),
    [
        ("induction.charge_cooler.effectiveness=70 percent", "write 0.7, without a unit"),
        ("engine.compression_ratio=9,2", "write 9.2, without a unit"),
        ("engine.compression_ratio=high", "write a number ("),
    ],
)
def test_a_plain_number_says_how_it_is_written(
    typed: str, hint: str, demo_copy: Path, buildlog: Call
) -> None:
    outcome = buildlog("set", typed, at=demo_copy)
    assert outcome.status == 4
    assert hint in outcome.err


def test_a_field_life_names_the_next_command(demo: Path, buildlog: Call) -> None:
    out = buildlog("show", "--at", "clutch.rated_torque", at=demo).out.splitlines()
    assert out[-1] == "next: buildlog show"


@pytest.mark.parametrize("call", [["new", "other"], ["record"], ["fault", "add"]])
def test_with_the_input_closed_nobody_is_asked(call: list[str], car: Path) -> None:
    done = subprocess.run(
        ["sh", "-c", 'exec "$@" <&-', "sh", sys.executable, "-m", "buildlog", *call],
        cwd=car, capture_output=True, text=True, env=os.environ | {"PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert done.returncode == 2, done.stderr
    assert "itself failed" not in done.stderr
    assert "do: " in done.stderr


def test_the_shop_is_named_without_a_new_ledger(tmp_path: Path, buildlog: Call) -> None:
    """As the note under an entry says it; anything else without a folder is asked about."""
    told = buildlog("new", "--shop", "Rook Works")
    assert (told.status, told.out) == (0, "kept in your settings: the shop is Rook Works\n")
    assert settings.load().shop == "Rook Works"
    for words in ((), ("--name", "Marrow Tern"), ("--shop", "Rook Works", "--year", "1994")):
        wrong = buildlog("new", *words)
        assert wrong.status == 2
        assert "buildlog new my-car" in wrong.err
