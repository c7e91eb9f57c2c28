"""`dyno add` from end to end: layouts, questions, conditions, bad input, all files or none."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import math
import os
import re
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner

from buildlog.cli import common
from buildlog.cli.main import cli
from buildlog.rawfiles import layout, table
from buildlog.records.toml import toml_write
from buildlog.store.git import ledger_files
from tests.builders import CAR, changed, pull_csv
from tests.conftest import Call
from tests.counting import bytes_held
from tests.rawfiles import rawfile_examples as examples

SAID = ("--date", "2026-03-14", "--standard-applied", "none", "--gear", "4", "--dyno", "R1")


@pytest.fixture(scope="session")
def started(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ledger with one entry of 2026-01-02 at 88,000 mi."""
    from datetime import UTC, date, datetime

    from buildlog.store.git.message import EntryFacts
    from buildlog.store.ledger.append import Recorder
    from buildlog.store.ledger.ledger import Ledger

    folder = tmp_path_factory.mktemp("started") / "ledger"
    folder.mkdir()
    (folder / "car.toml").write_bytes(toml_write.write(CAR))
    with Ledger.create(folder, nonce="5e" * 16) as ledger:
        facts = EntryFacts("intake", kind="found", odometer="88000 mi", work_date=date(2026, 1, 2))
        ledger.record(facts, Recorder("Quarry Lane", datetime(2026, 1, 2, 9, tzinfo=UTC)))
    return folder


@pytest.fixture
def ledger(started: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(started, tmp_path / "ledger"))


@pytest.fixture
def raw(tmp_path: Path) -> Callable[[str, bytes], Path]:
    """Writes a raw file outside the ledger."""

    def write(name: str, data: bytes) -> Path:
        path = tmp_path / "raw" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
        return path

    return write


Raw = Callable[[str, bytes], Path]


def session(ledger: Path, name: str) -> dict[str, Any]:
    return tomllib.loads((ledger / "dyno" / name / "session.toml").read_text("utf-8"))


def held(ledger: Path) -> dict[str, bytes]:
    """Every file of the folder but git's own."""
    return {
        str(path.relative_to(ledger)): path.read_bytes()
        for path in sorted(ledger.rglob("*"))
        if path.is_file() and ".git" not in path.parts
    }


def spool(ledger: Path) -> list[str]:
    folder = ledger / ".git" / "buildlog-spool"
    return sorted(os.listdir(folder)) if folder.exists() else []


# what a session holds afterwards


def test_a_pull_enters_byte_for_byte_and_the_first_line_answers(
    buildlog: Call, ledger: Path, raw: Raw
) -> None:
    data = pull_csv(100_000).replace(b"\n", b"\r\n")
    done = buildlog("dyno", "add", raw("run.csv", data), "--session", "baseline", *SAID,
                    "--map", "power=P:kW", "--units", "metric", at=ledger)  # fmt: skip
    assert done.status == 0, done.err
    assert (ledger / "dyno/2026-03-14-baseline/run.csv").read_bytes() == data
    assert done.out.startswith("2026-03-14-baseline: 1 pull, peak power 100.0 kW at 5,")
    assert "(wheels, observed,\n  no correction)" in done.out
    assert done.out.rstrip().endswith('next: buildlog record -m "baseline"')
    assert session(ledger, "2026-03-14-baseline") == {
        "format": 1,
        "date": dt.date(2026, 3, 14),
        "gear": 4,
        "standard_applied": "none",
        "dyno": {"id": "R1"},
        "layout": {"delimiter": "comma", "decimal": "point", "first_line": 2, "columns": 2},
        "column": [
            {"channel": "engine_speed", "name": "n", "unit": "rpm"},
            {"channel": "power", "name": "P", "unit": "kW"},
        ],
        "pull": [{"file": "run.csv"}],
    }
    assert spool(ledger) == []


def test_files_that_are_laid_out_differently_each_say_how(
    buildlog: Call, ledger: Path, raw: Raw, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One with a note above its table; a third comes later and is as the first. None of them is
    looked through again for its layout, and a layout that fits none of them is no harm."""
    plain = pull_csv(100_000)
    noted = b"Rolling road, bay 2\n" + plain
    names = ["--map", "power=P:kW"]
    first = [raw("a.csv", plain), raw("b.csv", noted)]
    later = raw("c.csv", plain + b"\n")
    for files in ([*first, *SAID], [later, "--date", "2026-03-14"]):
        done = buildlog("dyno", "add", *files, "--session", "baseline", *names, at=ledger)
        assert done.status == 0, done.err
    held = session(ledger, "2026-03-14-baseline")
    assert "layout" not in held
    lines = [pull["layout"]["first_line"] for pull in held["pull"]]
    assert lines == [2, 3, 2]
    found: list[str] = []
    whole = layout.find_layout
    monkeypatch.setattr(table, "find_layout", lambda *of: found.append(of[1]) or whole(*of))
    sheet = buildlog("dyno", "sheet", "--json", at=ledger)
    assert found == []
    place = ledger / "dyno/2026-03-14-baseline/session.toml"
    place.write_text(place.read_text().replace('delimiter = "comma"', 'delimiter = "tab"'))
    again = buildlog("dyno", "sheet", "--json", at=ledger)
    assert set(found) == {"a.csv", "b.csv", "c.csv"}
    assert again.out == sheet.out


def test_the_line_it_ends_with_records_the_session(buildlog: Call, ledger: Path, raw: Raw) -> None:
    buildlog("dyno", "add", raw("run.csv", pull_csv(100_000)), "--session", "baseline", *SAID,
             "--map", "power=P:kW", "--odometer", "88010 mi", at=ledger)  # fmt: skip
    done = buildlog("record", "-m", "dyno: baseline", "--date", "2026-03-14", at=ledger)
    assert done.status == 0, done.err
    assert "recorded: entry 2" in done.out
    status = subprocess.run(["git", "status", "--porcelain"], cwd=ledger, capture_output=True)
    assert status.stdout == b""


SINGLE = [
    "plain_comma", "german_spreadsheet", "utf16_log", "utf16_without_mark", "utf8_with_mark",
    "french", "front_and_rear", "columns_of_spaces", "comment_signs", "quoted_cells",
    "summary_row", "trailing_delimiter", "old_newlines", "german_thousands",
]  # fmt: skip


@pytest.mark.parametrize("layout", SINGLE)
def test_every_layout_gives_the_power_that_was_printed(
    buildlog: Call, ledger: Path, raw: Raw, layout: str
) -> None:
    """Each file is written from the description of its layout; its top is read back to 1 %."""
    example = getattr(examples, layout)()
    path = raw(f"{layout}.csv", example.data)
    done = buildlog("dyno", "add", path, "--session", "x", *SAID, "--json", at=ledger)
    assert done.status == 0, done.err
    body = json.loads(done.out)
    assert body["format"] == "buildlog/dyno-add/1"
    watts = {"kW": 1000.0, "hp": 745.6998715822702, "PS": 735.49875}
    _, unit = example.columns["power"]
    truth = max(example.truth["power"]) * watts[unit]
    assert body["pulls"][0]["peak_power_w"] == pytest.approx(truth, rel=0.01)
    assert (ledger / "dyno/2026-03-14-x" / f"{layout}.csv").read_bytes() == example.data


@pytest.mark.parametrize(
    ("layout", "count"),
    [
        ("side_by_side_named_above", 2),
        ("side_by_side_named_in_cells", 2),
        ("one_after_another", 3),
        ("blank_line_between", 3),
    ],
)
def test_runs_become_pulls_and_one_run_refuses_the_split(
    buildlog: Call, ledger: Path, raw: Raw, layout: str, count: int
) -> None:
    path = raw("runs.csv", getattr(examples, layout)().data)
    done = buildlog("dyno", "add", path, "--session", "x", *SAID, at=ledger)
    assert done.status == 0, done.err
    pulls = session(ledger, "2026-03-14-x")["pull"]
    assert len(pulls) == count
    assert len({pull["key"] for pull in pulls}) == count
    side_by_side = layout.startswith("side")
    assert all(("column" in pull) == side_by_side for pull in pulls)
    assert all(("rows" in pull) != side_by_side for pull in pulls)
    assert "--one-run if it is one" in done.out
    again = buildlog("dyno", "add", path, "--session", "y", *SAID, "--one-run", at=ledger)
    if again.status == 0:
        assert len(session(ledger, "2026-03-14-y")["pull"]) == 1


def test_files_of_two_layouts_have_columns_of_their_own(
    buildlog: Call, ledger: Path, raw: Raw
) -> None:
    one = raw("a.csv", examples.plain_comma().data)
    two = raw("b.csv", examples.german_spreadsheet().data)
    done = buildlog("dyno", "add", one, two, "--session", "x", *SAID, at=ledger)
    assert done.status == 0, done.err
    body = session(ledger, "2026-03-14-x")
    assert "column" not in body
    assert [pull["column"][0]["name"] for pull in body["pull"]] == [
        "Engine Speed (rpm)",
        "Drehzahl",
    ]


def test_calibration_and_keep_group_the_pulls(buildlog: Call, ledger: Path, raw: Raw) -> None:
    path = raw("run.csv", pull_csv(100_000))
    done = buildlog("dyno", "add", path, "--session", "x", *SAID, "--map", "power=P:kW",
                    "--calibration", "T26-009", "--keep", at=ledger)  # fmt: skip
    assert session(ledger, "2026-03-14-x")["pull"] == [
        {"file": "run.csv", "calibration": "T26-009", "keep": True}
    ]
    assert "calibration T26-009 stays in the car, but car.toml says T26-001" in done.out


def test_a_stated_value_needs_no_file(buildlog: Call, ledger: Path) -> None:
    text = 'power=148 hp@5600 rpm,standard=SAE J1349,at=wheel,source="printout, page 2"'
    done = buildlog("dyno", "add", "--session", "x", "--date", "2026-03-14", "--stated", text,
                    at=ledger)  # fmt: skip
    assert done.status == 0, done.err
    assert session(ledger, "2026-03-14-x")["stated"] == [
        {
            "quantity": "power",
            "value": "148 hp",
            "at": "5600 rpm",
            "standard": "SAE J1349",
            "measured_at": "wheel",
            "source": "printout, page 2",
        }
    ]
    assert "1 stated (declared, scatter not known)" in done.out


# names of files and sessions


def test_same_names_from_two_folders_are_numbered(buildlog: Call, ledger: Path, raw: Raw) -> None:
    one, two = raw("a/run.csv", pull_csv(100_000)), raw("b/RUN.csv", pull_csv(101_000, seed=1))
    three = raw("c/run.csv", pull_csv(102_000, seed=2))
    done = buildlog("dyno", "add", one, two, three, "--session", "x", *SAID, "--map",
                    "power=P:kW", at=ledger)  # fmt: skip
    assert done.status == 0, done.err
    names = [pull["file"] for pull in session(ledger, "2026-03-14-x")["pull"]]
    assert names == ["run.csv", "RUN-2.csv", "run-3.csv"]
    for path, name in zip((one, two, three), names, strict=True):
        assert (ledger / "dyno/2026-03-14-x" / name).read_bytes() == path.read_bytes()


@pytest.mark.parametrize(
    "name",
    ["session.toml", "-run.csv", ".hidden.csv", "con.csv", "Lauf: 1?.csv", "a b  c.csv",
     "run.lock", "run~", "x" * 200 + ".csv", "Lauf \u00e4.csv", "Lauf a\u0308.csv",
     "\u202erun.csv"],
)  # fmt: skip
def test_any_name_becomes_one_that_every_computer_can_hold(
    buildlog: Call, ledger: Path, raw: Raw, name: str
) -> None:
    path = raw(name, pull_csv(100_000))
    done = buildlog("dyno", "add", path, "--session", "x", *SAID, "--map", "power=P:kW", at=ledger)
    assert done.status == 0, done.err
    (pull,) = session(ledger, "2026-03-14-x")["pull"]
    inside = f"dyno/2026-03-14-x/{pull['file']}"
    assert ledger_files.refusal(inside) is None
    assert ledger_files.kind_of(inside) == "raw"
    assert (ledger / inside).read_bytes() == path.read_bytes()


@pytest.mark.parametrize(
    ("given", "date", "folder"),
    [
        ("baseline", "2026-03-14", "2026-03-14-baseline"),
        ("2026-03-14-baseline", None, "2026-03-14-baseline"),
        ("dyno/2026-03-14-stage 1/", None, "2026-03-14-stage-1"),
        ("2026-03-14", None, "2026-03-14"),
    ],
)
def test_a_name_without_a_day_gets_it_in_front(
    buildlog: Call, ledger: Path, raw: Raw, given: str, date: str | None, folder: str
) -> None:
    day = ["--date", date] if date else []
    done = buildlog("dyno", "add", raw("r.csv", examples.plain_comma().data), "--session", given,
                    *day, at=ledger)  # fmt: skip
    assert done.status == 0, done.err
    assert (ledger / "dyno" / folder / "session.toml").is_file()


def test_a_name_and_a_date_that_differ_are_refused(buildlog: Call, ledger: Path, raw: Raw) -> None:
    path = raw("r.csv", examples.plain_comma().data)
    done = buildlog("dyno", "add", path, "--session", "2026-03-15-x", "--date", "2026-03-14",
                    at=ledger)  # fmt: skip
    assert done.status == 2
    assert "the session's name begins with 2026-03-15, but --date is 2026-03-14" in done.err


# what cannot be decided


def test_a_script_is_refused_with_the_questions_and_how_to_answer(
    buildlog: Call, ledger: Path, raw: Raw
) -> None:
    before = held(ledger)
    path = raw("open.csv", b"n [1/min],P,Speed\n" + _rows())
    done = buildlog("dyno", "add", path, "--session", "x", *SAID, at=ledger)
    assert done.status == 4
    assert "nothing was written" in done.err
    assert 'open.csv: in which unit is "P" (power): ' in done.err
    assert "(--map power=P:UNIT)" in done.err
    assert "--leave-out COLUMN" in done.err
    assert held(ledger) == before


def _rows() -> bytes:
    return b"\n".join(b"%d,%.1f,%.1f" % (n, n / 50, n / 40) for n in range(2000, 6000, 50))


def test_a_column_may_be_left_out(buildlog: Call, ledger: Path, raw: Raw) -> None:
    path = raw("open.csv", b"n [1/min],P,Speed\n" + _rows())
    done = buildlog("dyno", "add", path, "--session", "x", *SAID, "--map", "power=P:kW",
                    "--leave-out", "Speed", at=ledger)  # fmt: skip
    assert done.status == 0, done.err
    columns = session(ledger, "2026-03-14-x")["column"]
    assert [column["channel"] for column in columns] == ["engine_speed", "power"]
    assert "left out as asked" in done.out


def test_corrected_power_without_a_standard_is_asked_for(
    buildlog: Call, ledger: Path, raw: Raw
) -> None:
    data = b"RPM,Corrected Power (kW)\n" + pull_csv(100_000).split(b"\n", 1)[1]
    path = raw("c.csv", data)
    done = buildlog("dyno", "add", path, "--session", "x", "--date", "2026-03-14", at=ledger)
    assert done.status == 4
    assert '"Corrected Power (kW)" is corrected: by which standard?' in done.err
    done = buildlog("dyno", "add", path, "--session", "x", *SAID[:2], "--standard-applied",
                    "unknown", at=ledger)  # fmt: skip
    assert done.status == 0, done.err
    assert "compared with no other session's" in done.out


def test_no_standard_is_unknown_and_said_with_its_consequence(
    buildlog: Call, ledger: Path, raw: Raw
) -> None:
    path = raw("r.csv", examples.plain_comma().data)
    done = buildlog("dyno", "add", path, "--session", "x", "--date", "2026-03-14", at=ledger)
    assert "standard_applied" not in session(ledger, "2026-03-14-x")
    assert "caution it is not known whether the file's power is corrected already" in done.out


class Terminal:
    """The command line with a person at both ends."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(common, "at_terminal", lambda: True)
        monkeypatch.setenv("XDG_STATE_HOME", str(folder.parent / "state"))
        monkeypatch.chdir(folder)

    def __call__(self, *arguments: str | Path, answers: str) -> Any:
        return CliRunner().invoke(cli, [str(a) for a in arguments], input=answers)


@pytest.fixture
def terminal(ledger: Path, monkeypatch: pytest.MonkeyPatch) -> Terminal:
    return Terminal(ledger, monkeypatch)


def test_at_a_terminal_units_and_conditions_are_asked_for(
    terminal: Terminal, ledger: Path, raw: Raw
) -> None:
    path = raw("open.csv", b"n [1/min],P,Speed\n" + _rows())
    answers = [
        "furlong",
        "kW",
        "",
        "88010",
        "88010 mi",
        "4",
        "R1",
        "",
        "none",
        "",
        "",
        "41 percent",
        "",
    ]
    done = terminal("dyno", "add", path, "--session", "x", "--date", "2026-03-14",
                    answers="\n".join(answers) + "\n")  # fmt: skip
    assert done.exit_code == 0, (done.output, done.exception)
    body = session(ledger, "2026-03-14-x")
    assert '"furlong" is no unit of power' in done.output
    assert "needs a unit" in done.output or "88010" in done.output
    assert (body["odometer"], body["gear"], body["standard_applied"]) == ("88010 mi", 4, "none")
    assert body["air"] == {"humidity": "41 percent"}
    assert body["column"][1] == {"channel": "power", "name": "P", "unit": "kW"}


def test_at_a_terminal_a_file_without_a_header_is_asked_about(
    terminal: Terminal, ledger: Path, raw: Raw
) -> None:
    data = b"\n".join(b"%d,%.1f" % (n, n / 50) for n in range(2000, 6000, 50))
    answers = ["engine_speed:rpm", "power:kW", *[""] * 9]
    done = terminal("dyno", "add", raw("bare.csv", data), "--session", "2026-03-14-x",
                    answers="\n".join(answers) + "\n")  # fmt: skip
    assert done.exit_code == 0, (done.output, done.exception)
    assert [c["name"] for c in session(ledger, "2026-03-14-x")["column"]] == [
        "column 1",
        "column 2",
    ]


def test_at_a_terminal_conditions_in_the_file_are_offered(
    terminal: Terminal, ledger: Path, raw: Raw
) -> None:
    path = raw("l.csv", examples.letterhead().data)
    done = terminal("dyno", "add", path, "--session", "x", answers="y\n" + "\n" * 10)
    assert done.exit_code == 0, (done.output, done.exception)
    assert "These conditions stand in the files. Take them?" in done.output
    assert session(ledger, "2026-03-14-x")["air"]["pressure"] == "29.31 inHg"


def test_at_a_terminal_refused_conditions_are_not_taken(
    terminal: Terminal, ledger: Path, raw: Raw
) -> None:
    path = raw("l.csv", examples.letterhead().data)
    done = terminal("dyno", "add", path, "--session", "2026-03-14-x", answers="n\n" + "\n" * 10)
    assert done.exit_code == 0, (done.output, done.exception)
    assert "air" not in session(ledger, "2026-03-14-x")


def test_stopping_at_a_question_writes_nothing(terminal: Terminal, ledger: Path, raw: Raw) -> None:
    before = held(ledger)
    path = raw("open.csv", b"n [1/min],P,Speed\n" + _rows())
    done = terminal("dyno", "add", path, "--session", "x", answers="")
    assert done.exit_code != 0
    assert isinstance(done.exception, SystemExit | click.Abort)
    assert held(ledger) == before


# conditions in a script


def test_a_script_names_what_it_does_not_take(buildlog: Call, ledger: Path, raw: Raw) -> None:
    path = raw("l.csv", examples.letterhead().data)
    done = buildlog("dyno", "add", path, "--session", "x", *SAID, at=ledger)
    assert done.status == 0, done.err
    said = " ".join(done.out.split())
    assert 'l.csv, line 6: found in the file, not taken: air.temperature = "68.5 degF"' in said
    assert "--air-temperature VALUE, or --take-conditions" in said
    assert "air" not in session(ledger, "2026-03-14-x")


def test_a_script_takes_them_when_told(buildlog: Call, ledger: Path, raw: Raw) -> None:
    path = raw("l.csv", examples.letterhead().data)
    done = buildlog("dyno", "add", path, "--session", "x", "--take-conditions", at=ledger)
    assert done.status == 0, done.err
    body = session(ledger, "2026-03-14-x")
    assert (body["odometer"], body["gear"], body["standard_applied"]) == ("88412 mi", 4, "none")
    assert body["air"] == {
        "temperature": "68.5 degF",
        "pressure": "29.31 inHg",
        "humidity": "41 %",
    }
    assert "condition air.humidity: 41 % (l.csv, line 8)" in done.out


def test_an_option_wins_over_the_file(buildlog: Call, ledger: Path, raw: Raw) -> None:
    path = raw("l.csv", examples.letterhead().data)
    buildlog("dyno", "add", path, "--session", "x", "--take-conditions", "--gear", "3", at=ledger)
    assert session(ledger, "2026-03-14-x")["gear"] == 3


def test_a_day_in_the_file_that_is_not_taken_is_a_question(
    buildlog: Call, ledger: Path, raw: Raw
) -> None:
    before = held(ledger)
    path = raw("l.csv", examples.letterhead().data)
    done = buildlog("dyno", "add", path, "--session", "x", at=ledger)
    assert done.status == 4
    assert 'found in the file, not taken: date = "2026-03-14"' in done.err
    assert held(ledger) == before


def test_air_that_differs_between_files_goes_to_its_pull(
    buildlog: Call, ledger: Path, raw: Raw
) -> None:
    data = examples.letterhead().data
    one = raw("a.csv", data)
    two = raw("b.csv", data.replace(b"68.5 F", b"71.0 F").replace(b"88412", b"88413"))
    done = buildlog("dyno", "add", one, two, "--session", "x", "--take-conditions", at=ledger)
    assert done.status == 0, done.err
    body = session(ledger, "2026-03-14-x")
    assert [pull["air"] for pull in body["pull"]] == [
        {"temperature": "68.5 degF"},
        {"temperature": "71.0 degF"},
    ]
    assert "odometer" not in body
    assert "not taken: odometer: 88412 mi (a.csv), 88413 mi (b.csv)" in " ".join(done.out.split())


# a session that exists


def add(call: Call, ledger: Path, path: Path, *more: str) -> Any:
    return call("dyno", "add", path, "--session", "x", *more, "--map", "power=P:kW", at=ledger)


def test_more_pulls_join_and_every_other_line_stays(buildlog: Call, ledger: Path, raw: Raw) -> None:
    add(buildlog, ledger, raw("a.csv", pull_csv(100_000)), *SAID)
    place = ledger / "dyno/2026-03-14-x/session.toml"
    text = place.read_text() + "\n# checked by D-03\n"
    place.write_text(text)
    done = add(buildlog, ledger, raw("b.csv", pull_csv(101_000, seed=1)), "--humidity", "40 %")
    assert done.status == 0, done.err
    assert place.read_text().startswith(text.removesuffix("\n# checked by D-03\n"))
    assert "# checked by D-03" in place.read_text()
    assert session(ledger, "2026-03-14-x")["pull"] == [
        {"file": "a.csv"},
        {"file": "b.csv", "air": {"humidity": "40 %"}},
    ]
    assert "2 pulls" in done.out


def test_a_recorded_session_says_that_it_takes_a_correction(
    buildlog: Call, ledger: Path, raw: Raw
) -> None:
    add(buildlog, ledger, raw("a.csv", pull_csv(100_000)), *SAID)
    assert buildlog("record", "-m", "dyno", "--date", "2026-03-14", at=ledger).status == 0
    done = buildlog("dyno", "add", raw("b.csv", pull_csv(101_000, seed=1)), "--session",
                    "2026-03-14-x", "--map", "power=P:kW", at=ledger)  # fmt: skip
    assert done.status == 0, done.err
    assert "the session is recorded in entry 2" in done.out
    line = done.out.rstrip().rsplit("next: buildlog ", 1)[1]
    assert line == 'record -m "more pulls: x" --kind correction --corrects 2'
    recorded = buildlog("record", "-m", "more pulls", "--kind", "correction", "--corrects", "2",
                        "--date", "2026-03-14", at=ledger)  # fmt: skip
    assert recorded.status == 0, recorded.err


def test_what_belongs_to_the_whole_session_is_not_changed_by_more_pulls(
    buildlog: Call, ledger: Path, raw: Raw
) -> None:
    add(buildlog, ledger, raw("a.csv", pull_csv(100_000)), *SAID)
    before = held(ledger)
    done = add(buildlog, ledger, raw("b.csv", pull_csv(101_000, seed=1)), "--place", "elsewhere")
    assert done.status == 2
    assert "--place belongs to the whole session, which exists already" in done.err
    assert held(ledger) == before


def test_a_recording_is_counted_once(buildlog: Call, ledger: Path, raw: Raw) -> None:
    data = pull_csv(100_000)
    one, two = raw("a.csv", data), raw("b.csv", data)
    done = buildlog("dyno", "add", one, two, "--session", "x", *SAID, "--map", "power=P:kW",
                    at=ledger)  # fmt: skip
    assert done.status == 4
    assert "b.csv and a.csv are the same bytes" in done.err
    add(buildlog, ledger, one, *SAID)
    done = add(buildlog, ledger, two)
    assert done.status == 4
    assert "this recording is in the session already as a.csv" in done.err
    done = buildlog("dyno", "add", two, "--session", "y", *SAID, "--map", "power=P:kW", at=ledger)
    assert "b.csv holds the same bytes as dyno/2026-03-14-x/a.csv" in " ".join(done.out.split())


def test_files_that_lack_the_sessions_columns_are_a_session_of_their_own(
    buildlog: Call, ledger: Path, raw: Raw
) -> None:
    buildlog("dyno", "add", raw("a.csv", examples.plain_comma().data), "--session", "x", *SAID,
             at=ledger)  # fmt: skip
    before = held(ledger)
    done = add(buildlog, ledger, raw("b.csv", pull_csv(101_000)))
    assert done.status == 4
    assert "the session's columns hold torque, air_fuel_ratio, which these files do not" in done.err
    assert held(ledger) == before


# against the car's history


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (("--date", "2025-12-01"), "the date 2025-12-01 is before that of entry 1 (2026-01-02)"),
        (("--odometer", "87990 mi"), "the odometer 87990 mi is below that of entry 1 (88000 mi)"),
        (("--odometer", "980000 mi"), "the odometer 980000 mi is far above that of entry 1"),
        (("--gear", "6"), "gear 6 is beyond the gearbox: car.toml gives it 5 ratios"),
        (("--altitude", "1500 m", "--air-pressure", "1013 hPa"), "looks reduced to sea level"),
        ((), "the odometer is not given"),
    ],
)
def test_doubts_are_said_and_the_session_is_written(
    buildlog: Call, ledger: Path, raw: Raw, more: tuple[str, ...], words: str
) -> None:
    said = [*SAID[2:4], "--dyno", "R1", *more]
    said += [] if "--date" in more else ["--date", "2026-03-14"]
    said += [] if "--gear" in more else ["--gear", "4"]
    done = add(buildlog, ledger, raw("a.csv", pull_csv(100_000)), *said)
    assert done.status == 0, done.err
    assert words in " ".join(done.out.split())


def test_an_unrecorded_change_of_the_car_leaves_open_what_was_measured(
    buildlog: Call, ledger: Path, raw: Raw
) -> None:
    car = changed(CAR, {"engine.compression_ratio": 9.9})
    (ledger / "car.toml").write_bytes(toml_write.write(car))
    done = add(buildlog, ledger, raw("a.csv", pull_csv(100_000)), *SAID)
    assert "car.toml has changes that are not recorded" in " ".join(done.out.split())
    assert "--session-is-new-configuration" in done.out


def test_a_file_that_came_late_names_the_entry_it_measured(
    buildlog: Call, ledger: Path, raw: Raw
) -> None:
    car = changed(CAR, {"engine.compression_ratio": 9.9})
    (ledger / "car.toml").write_bytes(toml_write.write(car))
    path = raw("a.csv", pull_csv(100_000))
    done = add(buildlog, ledger, path, *SAID, "--configuration", "first")
    assert done.status == 0, done.err
    assert "car.toml has changes" not in done.out
    head = subprocess.run(
        ["git", "rev-parse", "HEAD"], cwd=ledger, capture_output=True, text=True, check=True
    )
    assert session(ledger, "2026-03-14-x")["configuration"] == head.stdout.strip()
    done = add(buildlog, ledger, path, *SAID, "--configuration", "stage-9")
    assert done.status == 3


# files that are cut off or too large


def test_a_last_line_that_is_cut_off_is_left_out_with_a_note(
    buildlog: Call, ledger: Path, raw: Raw
) -> None:
    data = pull_csv(100_000).rstrip(b"\n").rsplit(b",", 1)[0]
    lines = data.count(b"\n") + 1
    done = add(buildlog, ledger, raw("a.csv", data), *SAID)
    assert done.status == 0, done.err
    assert f"the last line, {lines}, is cut off" in " ".join(done.out.split())
    (pull,) = session(ledger, "2026-03-14-x")["pull"]
    assert pull["rows"] == [1, lines - 2]
    assert "is cut off; the rows above it are read" in pull["note"]
    assert (ledger / "dyno/2026-03-14-x/a.csv").read_bytes() == data


def test_a_short_line_in_the_middle_is_an_error_with_its_number(
    buildlog: Call, ledger: Path, raw: Raw
) -> None:
    lines = pull_csv(100_000).split(b"\n")
    lines[30] = lines[30].split(b",")[0]
    before = held(ledger)
    done = add(buildlog, ledger, raw("a.csv", b"\n".join(lines)), *SAID)
    assert done.status == 4
    assert "a.csv, line 31: the line has 1 cell where the table has 2" in done.err
    assert held(ledger) == before


def test_of_a_file_too_large_the_sweep_enters_at_full_rate(
    buildlog: Call, ledger: Path, raw: Raw, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The limit is lowered; rows held at little load stand before the sweep and after it."""
    from buildlog.desk.acts.dyno import dyno_intake

    monkeypatch.setattr(dyno_intake, "LARGEST_FILE", 10_000)
    head, *rows = pull_csv(100_000).rstrip(b"\n").split(b"\n")
    idle = [b"2000,1.0000"] * 2000
    data = b"\n".join([b"# bench computer", head, *idle, *rows, *idle]) + b"\n"
    done = add(buildlog, ledger, raw("log.csv", data), *SAID, "--json")
    assert done.status == 0, done.err
    place = ledger / "dyno/2026-03-14-x"
    text = (place / "log-sweeps.csv").read_text()
    assert f"# SHA-256: {hashlib.sha256(data).hexdigest()}" in text
    assert f"# whole file: {len(data)} bytes" in text
    assert "# kept: lines " in text
    kept = text.split("\n\n", 1)[1].rstrip("\n").split("\n")
    assert kept[0] == head.decode()
    assert set(map(str.encode, kept[1:])) <= set(rows)
    assert len(kept) - 1 >= 0.98 * len(rows)
    (pull,) = session(ledger, "2026-03-14-x")["pull"]
    assert pull["outside_sha256"] == hashlib.sha256(data).hexdigest()
    assert pull["outside_size"] == len(data)
    assert json.loads(done.out)["pulls"][0]["peak_power_w"] == pytest.approx(100_000, rel=0.001)
    assert not (place / "log.csv").exists()
    assert buildlog("record", "-m", "x", "--odometer", "unknown", at=ledger).status == 0
    assert "raw-differs" not in buildlog("verify", "--json", at=ledger).out
    assert buildlog("verify", at=ledger).status == 0


@pytest.mark.parametrize("kind", ["no sweep", "one sweep over all of it"])
def test_a_large_file_without_a_pull_is_refused_and_never_held(
    kind: str, buildlog: Call, ledger: Path, raw: Raw, monkeypatch: pytest.MonkeyPatch
) -> None:
    """400 MB of ten million rows took 690 MB of memory before it was said that no sweep is there.

    The limits are lowered; held are the rows by which sizes are judged, and few others."""
    from buildlog.analysis.pulls import reduction
    from buildlog.desk.acts.dyno import dyno_intake
    from buildlog.rawfiles import decode, propose, runs

    monkeypatch.setattr(dyno_intake, "LARGEST_FILE", 10_000)
    monkeypatch.setattr(reduction, "_HELD", 200_000)
    monkeypatch.setattr(reduction, "_CELLS", 30_000)
    monkeypatch.setattr(propose, "SAMPLE", 1_000)
    monkeypatch.setattr(runs, "MOST_HELD", 10_000)
    monkeypatch.setattr(decode, "CHUNK", 1 << 14)
    head, *rows = pull_csv(100_000).rstrip(b"\n").split(b"\n")
    many = [b"2500,60.1"] * 300_000
    if kind != "no sweep":
        many = [b"%.3f,%.2f" % (2500 + n / 100, 60 + n / 5000) for n in range(300_000)]
    path = raw("log.csv", b"\n".join([head, *many]) + b"\n")
    add(buildlog, ledger, path, *SAID)  # what is loaded once
    del many, rows
    before = held(ledger)
    with bytes_held() as most:
        done = add(buildlog, ledger, path, *SAID)
    assert done.status == 4
    assert ("stuck" if kind == "no sweep" else "rows, which is no pull") in done.err
    assert held(ledger) == before
    assert most.number < 6_000_000  # all of it is 4.8 MB of numbers, held several times over


def test_a_pull_among_a_hundred_thousand_rows_of_idling_enters_alone(
    buildlog: Call, ledger: Path, raw: Raw, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Looked over at one row in many, the last row held before the pull seems to belong to it."""
    from buildlog.analysis.pulls import reduction
    from buildlog.desk.acts.dyno import dyno_intake

    monkeypatch.setattr(dyno_intake, "LARGEST_FILE", 100_000)
    monkeypatch.setattr(reduction, "_HELD", 200_000)
    monkeypatch.setattr(reduction, "_CELLS", 30_000)
    head, *rows = pull_csv(100_000).rstrip(b"\n").split(b"\n")
    idle = [b"2000,1.0000"] * 50_000
    data = b"\n".join([head, *idle, *rows, *idle]) + b"\n"
    done = add(buildlog, ledger, raw("log.csv", data), *SAID, "--json")
    assert done.status == 0, done.err
    kept = (ledger / "dyno/2026-03-14-x/log-sweeps.csv").read_text().split("\n\n", 1)[1]
    assert 0.9 * len(rows) < kept.count("\n") <= len(rows) + 1


def test_two_sweeps_of_a_large_file_are_two_pulls(
    buildlog: Call, ledger: Path, raw: Raw, monkeypatch: pytest.MonkeyPatch
) -> None:
    from buildlog.desk.acts.dyno import dyno_intake

    monkeypatch.setattr(dyno_intake, "LARGEST_FILE", 10_000)
    head, *one = pull_csv(100_000).rstrip(b"\n").split(b"\n")
    _, *two = pull_csv(90_000, seed=3).rstrip(b"\n").split(b"\n")
    idle = [b"2000,1.0000"] * 500
    data = b"\n".join([head, *idle, *one, *idle, *two, *idle]) + b"\n"
    done = add(buildlog, ledger, raw("log.csv", data), *SAID, "--json")
    assert done.status == 0, done.err
    peaks = [pull["peak_power_w"] for pull in json.loads(done.out)["pulls"]]
    assert peaks == pytest.approx([100_000, 90_000], rel=0.001)


# bad input: one clear sentence, the right status, nothing written


BAD: list[tuple[str, bytes, tuple[str, ...], int, str]] = [
    ("empty", b"", (), 4, "bad.csv: the file is empty"),
    ("blank", b"\n\n  \n", (), 4, "bad.csv: the file is empty"),
    ("binary", b"\x00\x01\x02\x7fELF" * 50, (), 4, "the file holds bytes that are no text"),
    ("pdf", b"%PDF-1.7\n1 0 obj\n", (), 4, "the file holds bytes that are no text"),
    ("words", b"hello\nworld\n", (), 4, "no table of numbers was found in the file"),
    ("unit", b"", ("--map", "power=P:Nm"), 2, '"Nm" is no unit of power'),
    ("channel", b"", ("--map", "powr=P:kW"), 2, 'is no channel\n  do: did you mean "power"?'),
    ("column", b"", ("--map", "power=Q:kW"), 2, 'there is no column "Q"'),
    ("form", b"", ("--map", "power"), 2, "does not say which column is which channel"),
    ("temperature", b"", ("--air-temperature", "68"), 4, "--air-temperature '68': "),
    ("pressure", b"", ("--air-pressure", "1013 kPa"), 4, "is outside 45 kPa to 115 kPa"),
    ("day", b"", ("--date", "14.3.2026"), 4, '"14.3.2026" is not a day'),
    ("gear", b"", ("--gear", "four"), 4, "--gear 'four'"),
    ("standard", b"", ("--standard-applied", "XYZ"), 4, "is not a correction standard known"),
    ("kind", b"", ("--dyno-kind", "water"), 4, "--dyno-kind 'water'"),
    ("stated", b"", ("--stated", "power=148"), 4, "--stated 'power=148': "),
    ("stated-word", b"", ("--stated", "power=148 hp,by=me"), 2, '"by" is not one of standard'),
    ("session", b"", ("--map", "power=P:kW", "--session", ".."), 4,
     'the session name "2026-03-14-.." begins or ends with a blank or ends with a dot'),
]  # fmt: skip


@pytest.mark.parametrize(
    ("data", "more", "status", "words"), [row[1:] for row in BAD], ids=[row[0] for row in BAD]
)
def test_bad_input_is_one_sentence_and_nothing_is_written(
    buildlog: Call, ledger: Path, raw: Raw, data: bytes, more: tuple[str, ...], status: int,
    words: str, request: pytest.FixtureRequest,
) -> None:  # fmt: skip
    given = data if request.node.callspec.id in {"empty"} or data else pull_csv(100_000)
    before = held(ledger)
    said = ["--session", "x", "--date", "2026-03-14", *more]
    done = buildlog("dyno", "add", raw("bad.csv", given), *said, at=ledger)
    assert (done.status, words in done.err) == (status, True), done.err
    assert "Traceback" not in done.err
    assert held(ledger) == before
    assert spool(ledger) == []


def test_a_missing_file_a_folder_and_no_file(buildlog: Call, ledger: Path, raw: Raw) -> None:
    before = held(ledger)
    good = raw("good.csv", examples.plain_comma().data)
    done = buildlog("dyno", "add", good, "none.csv", "--session", "x", *SAID, at=ledger)
    assert (done.status, done.err.splitlines()[0]) == (3, "none.csv: there is no such file")
    done = buildlog("dyno", "add", good, good.parent, "--session", "x", *SAID, at=ledger)
    assert (done.status, "this is a folder" in done.err) == (4, True)
    done = buildlog("dyno", "add", "--session", "x", *SAID, at=ledger)
    assert (done.status, done.err.splitlines()[0]) == (3, "no raw file is named")
    done = buildlog("dyno", "add", good, *SAID, at=ledger)
    assert (done.status, done.err.splitlines()[0]) == (2, "the session has no name")
    assert held(ledger) == before


def test_one_bad_file_of_three_keeps_all_of_them_out(
    buildlog: Call, ledger: Path, raw: Raw
) -> None:
    before = held(ledger)
    files = [raw(f"{n}.csv", pull_csv(100_000, seed=n)) for n in (1, 2)]
    files.append(raw("3.csv", b"n,P\n1000,1\n1100,2\n"))
    done = buildlog("dyno", "add", *files, "--session", "x", *SAID, "--map", "power=P:kW",
                    at=ledger)  # fmt: skip
    assert done.status == 4
    assert "3.csv" in done.err
    assert held(ledger) == before


def test_outside_a_ledger(buildlog: Call, tmp_path: Path, raw: Raw) -> None:
    path = raw("a.csv", pull_csv(100_000))
    done = buildlog("dyno", "add", path, "--session", "x", at=tmp_path)
    assert done.status == 3
    assert "is not in a ledger" in done.err


def test_a_broken_car_toml_is_named(buildlog: Call, ledger: Path, raw: Raw) -> None:
    (ledger / "car.toml").write_text("format = 1\n[engine\n")
    done = add(buildlog, ledger, raw("a.csv", pull_csv(100_000)), *SAID)
    assert done.status == 4
    assert "car.toml, line 2" in done.err
    assert not (ledger / "dyno").exists()


@pytest.mark.parametrize("exists", [False, True], ids=["new session", "more pulls"])
def test_a_disk_that_cannot_be_written_leaves_nothing(
    buildlog: Call, ledger: Path, raw: Raw, monkeypatch: pytest.MonkeyPatch, exists: bool
) -> None:
    """The third file fails: root may write anywhere, so the disk's answer is put in its place."""
    import errno

    from buildlog.store.disk import atomic

    if exists:
        add(buildlog, ledger, raw("a.csv", pull_csv(99_000)), *SAID)
    before = held(ledger)
    files = [raw(f"{n}.csv", pull_csv(100_000, seed=n)) for n in (1, 2, 3)]
    calls: list[Path] = []
    real = atomic.replace

    def failing(path: Path, data: bytes, **more: Any) -> None:
        calls.append(path)
        if path.name == "3.csv":
            raise OSError(errno.EROFS, os.strerror(errno.EROFS), str(path))
        real(path, data, **more)

    monkeypatch.setattr(atomic, "replace", failing)
    said = () if exists else SAID
    done = buildlog("dyno", "add", *files, "--session", "x", *said, "--map", "power=P:kW",
                    at=ledger)  # fmt: skip
    assert done.status == 7
    assert "copy the ledger to a disk that can be written" in done.err
    assert len(calls) == 3
    assert held(ledger) == before
    assert spool(ledger) == []


def test_a_folder_with_files_but_no_session_toml_is_not_written_over(
    buildlog: Call, ledger: Path, raw: Raw
) -> None:
    place = ledger / "dyno/2026-03-14-x"
    place.mkdir(parents=True)
    (place / "notes.txt").write_text("mine")
    done = add(buildlog, ledger, raw("a.csv", pull_csv(100_000)), *SAID)
    assert done.status == 4
    assert "there are files in this folder already, and no session.toml" in done.err
    assert [path.name for path in place.iterdir()] == ["notes.txt"]


def test_a_link_in_place_of_the_folder_is_not_followed(
    buildlog: Call, ledger: Path, raw: Raw, tmp_path: Path
) -> None:
    (tmp_path / "other").mkdir()
    (ledger / "dyno").symlink_to(tmp_path / "other")
    done = add(buildlog, ledger, raw("a.csv", pull_csv(100_000)), *SAID)
    assert done.status == 4
    assert list((tmp_path / "other").iterdir()) == []


def test_help_lists_the_command_and_imports_nothing_slow() -> None:
    done = subprocess.run(
        [sys.executable, "-c",
         "import sys\nfrom buildlog.cli.main import _run\n_run(['dyno', 'add', '--help'])\n"
         "print(sorted({'numpy', 'dulwich', 'pydantic', 'tomlkit'} & set(sys.modules)))"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert "--map CHANNEL=COLUMN:UNIT" in done.stdout
    assert done.stdout.rstrip().endswith("[]")


def test_a_roller_trace_asks_for_the_drum_and_takes_it_as_an_option(
    buildlog: Call, ledger: Path, raw: Raw
) -> None:
    inertia, radius, power = 40.0, 0.4, 60e3  # constant power: omega^2 grows with 2 P t / J
    rows = ["time [s],roller speed [rpm],engine speed [rpm]"]
    for step in range(300):
        omega = math.sqrt(40.0**2 + 2 * power * step * 0.02 / inertia)
        rows.append(f"{step * 0.02:.3f},{omega * 30 / math.pi:.3f},{omega * 40:.1f}")
    file = raw("roller.csv", "\n".join(rows).encode())
    call = ("dyno", "add", file, "--session", "roller", *SAID, "--dyno-kind", "inertia")
    refused = buildlog(*call, at=ledger)
    assert refused.status == 4
    assert "--drum-inertia" in refused.err
    done = buildlog(*call, "--drum-inertia", f"{inertia} kg*m^2", "--roller-circumference",
                    f"{2 * math.pi * radius:.4f} m", "--units", "metric", at=ledger)  # fmt: skip
    assert done.status == 0, done.err
    peak = re.search(r"peak power (\d+\.\d) kW", done.out)
    assert peak is not None
    assert float(peak[1]) == pytest.approx(60.0, rel=0.01)


def test_a_file_of_which_nothing_is_understood_says_what_to_name(
    buildlog: Call, ledger: Path, raw: Raw
) -> None:
    rows = "a,b\n" + "".join(f"{n},{n * 2}\n" for n in range(1, 40))
    call = ("dyno", "add", raw("s.csv", rows.encode()), "--session", "x", *SAID)
    done = buildlog(*call, at=ledger)
    assert done.status == 4
    assert done.err.startswith('s.csv: none of its columns is known here: "a", "b"')
    assert "--map power=COLUMN:kW" in done.err


FOREIGN = b"qx1;qx2;qx3\n" + b"".join(
    f"{i * 0.05:.2f};{2000 + 20 * i};{40 + 0.5 * i:.1f}\n".encode() for i in range(200)
)
MAPS = ("--map", "time=qx1:s", "--map", "engine_speed=qx2:rpm", "--map", "power=qx3:kW")


def added(buildlog: Call, ledger: Path, path: Path, name: str, *more: str) -> Any:
    return buildlog("dyno", "add", path, "--session", name, *SAID, *more, at=ledger)


def test_a_foreign_file_is_mapped_once_and_the_next_like_it_is_read(
    ledger: Path, raw: Callable[[str, bytes], Path], buildlog: Call
) -> None:
    first, second = raw("a.csv", FOREIGN), raw("b.csv", FOREIGN.replace(b"0.05;", b"0.06;"))
    assert added(buildlog, ledger, first, "one").status == 4, "nobody knows these names"
    assert added(buildlog, ledger, first, "one", *MAPS).status == 0
    done = added(buildlog, ledger, second, "two")
    assert done.status == 0, done.err
    assert done.out.count("as said of such a file before") == 3


def test_what_is_said_now_goes_before_what_was_kept(
    ledger: Path, raw: Callable[[str, bytes], Path], buildlog: Call
) -> None:
    added(buildlog, ledger, raw("a.csv", FOREIGN), "one", *MAPS)
    again = ("--map", "power=qx3:hp")
    done = added(buildlog, ledger, raw("b.csv", FOREIGN + b"10.0;6000;140.5\n"), "two", *again)
    assert done.status == 0, done.err
    assert re.search(r'"qx3" +power +hp', done.out)


@pytest.mark.parametrize("head", [b"qx1;qx2;qx4\n", b"qx2;qx1;qx3\n", b"qx1;qx2;qx3;qx4\n"])
def test_a_file_with_other_columns_is_asked_about(
    ledger: Path, raw: Callable[[str, bytes], Path], buildlog: Call, head: bytes
) -> None:
    added(buildlog, ledger, raw("a.csv", FOREIGN), "one", *MAPS)
    rows = FOREIGN.partition(b"\n")[2]
    rows = rows.replace(b"\n", b";1\n") if head.count(b";") == 3 else rows
    assert added(buildlog, ledger, raw("b.csv", head + rows), "two").status == 4


def test_torn_kept_maps_hold_nothing_and_stop_nobody(
    ledger: Path, raw: Callable[[str, bytes], Path], buildlog: Call
) -> None:
    place = Path(os.environ["BUILDLOG_CONFIG"]).with_name("raw-files.toml")
    for torn in (b"\xff", b"file = 1\n", b"[[file]]\ncolumns = 3\n"):
        place.write_bytes(torn)
        assert added(buildlog, ledger, raw("a.csv", FOREIGN), "one").status == 4
    place.write_bytes(b"[[file]]\ncolumns = 3\n")
    assert added(buildlog, ledger, raw("a.csv", FOREIGN), "one", *MAPS).status == 0


def test_a_refused_condition_is_named_by_its_own_option() -> None:
    from buildlog.cli.dyno_add import CONDITIONS
    from buildlog.desk.acts.dyno.dyno_conditions import option

    assert {flag: option(field) for flag, (field, _) in CONDITIONS.items()} == {
        flag: flag for flag in CONDITIONS
    }
