"""A newer buildlog wrote a field: it is carried where an entry proves it, and never counted on."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from buildlog.records.fields import newer
from buildlog.records.paths import fields
from buildlog.records.schema import MODELS
from buildlog.store.git.message import EntryFacts
from buildlog.store.ledger.append import Recorder
from buildlog.store.ledger.ledger import Ledger
from tests.attack.worlds import call, done
from tests.conftest import ROOT
from tests.generate_schemas import known_revisions
from tests.histories import CAR, git, history, next_recorder, put, record

NEWER = "buildlog, format 1.99"
FUEL = '\n[fuel]\nkind = "gasoline"\n\n[fuel.injectors]\ncount = 6\nflow = "440 cc/min"\n'
ADDED = {
    "field": ("[engine]\n", '[engine]\nvalve_events = "302 deg"\n', "engine.valve_events"),
    "table": ("[engine]\n", "[engine.lift]\nheight = 3\nof = [1, 2]\n\n[engine]\n", "engine.lift"),
    "top": ("[engine]\n", "[carburetion]\ncount = 2\n\n[engine]\n", "carburetion.count"),
    "array": ("[engine]\n", '[[due_soon]]\nwhat = "oil"\non = 2026-05-01\n\n[engine]\n',
              "due_soon"),
    "item": ("[engine]\n", '[[work]]\nitem = "paint"\nhue = "green"\n\n[engine]\n',
             "work[paint].hue"),
}  # fmt: skip


def by_newer(ledger: Ledger, by: str | None = NEWER) -> Recorder:
    return replace(next_recorder(ledger), written_by=by)


@pytest.fixture(params=ADDED)
def car(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[Path, str]:
    """A ledger whose second entry was recorded by a newer program; the path it added."""
    old, new, path = ADDED[request.param]
    with history(tmp_path / "car", [put("car.toml", CAR + FUEL), record("as found")]) as ledger:
        _as_newer(ledger, (CAR + FUEL).replace(old, new), "newer field")
    return tmp_path / "car", path


def _as_newer(ledger: Ledger, text: str, subject: str, by: str | None = NEWER) -> None:
    (ledger.folder / "car.toml").write_text(text)
    ledger.record(EntryFacts(subject), by_newer(ledger, by))


def told(at: Path, *words: str) -> Any:
    return json.loads(done(at, *words, "--json"))


def test_every_command_answers_and_edits_carry_it(car: tuple[Path, str]) -> None:
    at, path = car
    for words in (["history"], ["show", "--full"], ["check"], ["verify"], ["next"], ["diff", "1"],
                  ["margins"], ["show", "--parts"], ["plan", "new", "cam"], ["plan", "list"],
                  ["plan", "set", "cam", "engine.stroke=80 mm"]):  # fmt: skip
        said = call(at, *words)
        assert said.status in (0, 1), (words, said)
        assert "is not a known field" not in said.out + said.err, (words, said)
    before = (at / "car.toml").read_text()
    done(at, "set", "engine.bore=84.5 mm")
    assert (at / "car.toml").read_text() == before.replace("84.0 mm", "84.5 mm")
    done(at, "record", "-m", "bored", "--odometer", "unknown")
    done(at, "plan", "adopt", "cam")
    assert 'stroke = "80 mm"' in (at / "car.toml").read_text()
    assert path in done(at, "show", "--full", "--json")
    log = git(at, "log", "-1", "--format=%B")
    assert f"Written-by: {newer.WRITTEN_BY}\n" in log
    said = call(at, "check")
    assert "written by a newer buildlog" in " ".join(said.out.split())


def test_a_process_that_has_read_nothing_yet_edits_it(car: tuple[Path, str]) -> None:
    at, _ = car
    told = subprocess.run(
        [sys.executable, "-m", "buildlog", "set", "engine.bore=84.5 mm"],
        capture_output=True, text=True, check=False, cwd=at,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert told.returncode == 0, told.stderr


def test_another_text_is_a_slip_of_the_pen(car: tuple[Path, str]) -> None:
    at, _ = car
    text = (at / "car.toml").read_text()
    for old, new in (("302 deg", "303 deg"), ("height = 3", "height = 4"), ('"oil"', '"air"'),
                     ("count = 2", "count = 3"), ("valve_events", "valve_event"),
                     ("green", "blue")):  # fmt: skip
        if old in text:
            (at / "car.toml").write_text(text.replace(old, new))
            said = call(at, "check")
            assert said.status == 1
            assert "is not a known field" in said.out


@pytest.mark.parametrize("by", [None, newer.WRITTEN_BY, "buildlog, format 1.0", "a friend"])
def test_what_no_newer_program_wrote_is_an_error(tmp_path: Path, by: str | None) -> None:
    with history(tmp_path / "car", [put("car.toml", CAR), record("as found")]) as ledger:
        _as_newer(ledger, CAR.replace("[engine]", '[engine]\nunproven_one = "1"'), "a slip", by)
    said = call(tmp_path / "car", "show")
    assert said.status == 4
    assert "engine.unproven_one is not a known field" in said.err


def test_both_sides_are_joined_with_it(car: tuple[Path, str]) -> None:
    at, path = car
    done(at, "sync", str(at.parent / "copy"))
    done(at, "set", "engine.bore=84.5 mm")
    done(at, "record", "-m", "bored", "--odometer", "unknown")
    copy = at.parent / "copy"
    done(copy, "set", "engine.stroke=80 mm")
    done(copy, "record", "-m", "stroked", "--odometer", "unknown")
    done(at, "sync", str(copy))
    text = (at / "car.toml").read_text()
    assert "84.5 mm" in text
    assert "80 mm" in text
    assert path in done(at, "show", "--full", "--json")
    assert told(at, "verify")["verdict"] == "consistent"


def test_nothing_is_predicted_from_it_and_no_version_is_its_equal(demo_copy: Path) -> None:
    text = (demo_copy / "car.toml").read_text()
    with Ledger.open(demo_copy) as ledger:
        _as_newer(ledger, text.replace("[fuel.injectors]", '[fuel.injectors]\nspray = "wide"'), "x")
    lacking = {row["name"]: row["missing"] for row in told(demo_copy, "margins")["margins"]}
    assert lacking["injector duty"] == ["a newer buildlog, for fuel.injectors.spray"]
    assert lacking["clutch torque"] == ["dyno session"]  # no measured version is its equal
    said = call(demo_copy, "predict", "stage-2", "working")
    assert said.status == 4
    assert "a newer buildlog wrote fuel.injectors.spray" in said.err
    assert told(demo_copy, "diff", "stage-2", "latest")["measured"] is None


def test_a_file_of_a_newer_format_is_carried_whole(tmp_path: Path) -> None:
    text = CAR.replace("format = 1", "format = 2").replace('"84.0 mm"', "{ value = 84 }")
    with history(tmp_path / "car", [put("car.toml", CAR), record("as found")]) as ledger:
        _as_newer(ledger, text, "format 2", "buildlog, format 2.0")
    at = tmp_path / "car"
    for words in (["history"], ["show"], ["verify"], ["diff", "1", "2"]):
        assert call(at, *words).status == 0, words
    said = call(at, "set", "car.year=1995")
    assert said.status == 4
    assert "format 2" in said.err
    (at / "attachments").mkdir()
    (at / "attachments/note.txt").write_text("a note\n")
    done(at, "record", "-m", "a note", "--odometer", "unknown")
    assert git(at, "show", "main:car.toml") == text
    (at / "car.toml").write_text(text.replace("1994", "1995"))
    assert call(at, "show", "working").status == 4


def test_the_index_never_proves_it(tmp_path: Path, car: tuple[Path, str]) -> None:
    """What one ledger proved is asked again in each process: a file alone proves nothing."""
    at, _ = car
    for _ in range(2):
        done(at, "show")
    script = (
        "import sys; from pathlib import Path;"
        "from buildlog.desk.snapshot.record_cache import Known;"
        "from buildlog.records.car.configuration import Configuration;"
        "Known().read(Configuration, Path(sys.argv[1]).read_bytes(), 'car.toml')"
    )
    alone = subprocess.run(
        [sys.executable, "-c", script, str(at / "car.toml")],
        capture_output=True, text=True, check=False, cwd=ROOT,
    )  # fmt: skip
    assert "is not a known field" in alone.stderr


def test_every_field_came_with_one_revision_and_none_went() -> None:
    """`format = 1` only grows; what is added raises the revision that entries name."""
    known = known_revisions()
    assert list(known)[-1] == f"{newer.FORMAT}.{newer.REVISION}"
    for name, model in MODELS.items():
        listed = [path for files in known.values() for path in files.get(name, ())]
        assert sorted(listed) == sorted(fields(model)), "python -m tests.generate_schemas"
