"""A rating that changes alone, another car of its kind, pump octane, flows by mass."""

from __future__ import annotations

import json
import shutil
import tomllib
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner

from buildlog.analysis.car.priors import load
from buildlog.analysis.margins.figures.margin_car import MarginCar, Subject
from buildlog.analysis.margins.figures.rail_pressure import volume_flow
from buildlog.analysis.workshop.better_figures import better_figures
from buildlog.analysis.workshop.partlife import part, parts
from buildlog.cli import common
from buildlog.records.checked_paths import field
from buildlog.report.booklet.partslist import HEAD, parts_csv
from tests.builders import make_configuration, make_version
from tests.conftest import Call

KNOWN = ["fuel.injectors.flow=310 cc/min", "fuel.injectors.count=6",
         "fuel.injectors.part.maker=Tolvane", "fuel.injectors.part.number=TI-310",
         "fuel.injectors.part.serial=88-01", "clutch.rated_torque=280 N*m",
         "clutch.source=Tolvane sheet 12", "engine.limit.value=250 kW",
         "engine.limit.source=builder's letter", "calibration.id=T26-001",
         "car.vin=1M8GDM9AXKP042788",
         "chassis.note=the owner's brother has the spare key", "tyres.made=2319"]  # fmt: skip


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    from buildlog.cli.main import cli

    folder = tmp_path_factory.mktemp("made") / "car"
    for line in (
        ["new", folder, "--name", "Marrow Tern", "--year", "1994"],
        ["set", *KNOWN, "--ledger", folder],
        ["work", "add", "seats", "--note", "for a tall owner", "--ledger", folder],
        ["record", "-m", "intake", "--kind", "found", "--odometer", "88000 mi", "--date",
         "2026-01-02", "--ledger", folder],
    ):  # fmt: skip
        told = CliRunner().invoke(cli, [str(word) for word in line])
        assert told.exit_code == 0, told.output
    return folder


@pytest.fixture
def car(made: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(made, tmp_path / "car"))


def document(car: Path) -> dict[str, Any]:
    return tomllib.loads((car / "car.toml").read_text("utf-8"))


# another part, or a better figure?


def test_under_one_maker_and_number_the_value_is_corrected(buildlog: Call, car: Path) -> None:
    told = buildlog("set", "fuel.injectors.flow=316 cc/min", at=car)
    assert told.status == 0, told.err
    assert "a better figure for the same part (Tolvane TI-310" in " ".join(told.out.split())
    line = told.out.rstrip().splitlines()[-1]
    assert line.endswith("--kind correction --corrects 1")
    as_said = ("-m", "measured on a bench", "--kind", "correction", "--corrects", "1")
    assert buildlog("record", *as_said, at=car).status == 0
    shown = json.loads(buildlog("show", "--parts", "--json", at=car).out)
    injectors = next(one for one in shown["parts"] if one["path"] == "fuel.injectors")
    assert injectors["since"] is None or injectors["since"]["entry"] == 1


def test_under_no_identity_the_question_is_told_where_nobody_can_be_asked(
    buildlog: Call, car: Path
) -> None:
    told = buildlog("set", "clutch.rated_torque=300 N*m", at=car)
    assert told.status == 0
    plain = " ".join(told.out.split())
    assert "clutch.rated_torque: another part, or a better figure?" in plain
    assert "--same-part" in plain
    assert document(car)["clutch"]["rated_torque"] == "300 N*m"


def test_it_is_said_to_be_the_same_part(buildlog: Call, car: Path) -> None:
    told = buildlog("set", "clutch.rated_torque=300 N*m", "--same-part", at=car)
    assert "another part" not in told.out
    assert "--kind correction --corrects 1" in told.out


@pytest.mark.parametrize("answer", ["another", "better"])
def test_at_a_terminal_it_is_asked(
    answer: str, buildlog: Call, car: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []

    def prompt(question: str, **_: Any) -> str:
        asked.append(question)
        return answer

    from buildlog.cli import set as set_command

    monkeypatch.setattr(set_command, "at_terminal", lambda: True)
    monkeypatch.setattr(common, "at_terminal", lambda: True)
    monkeypatch.setattr(click, "prompt", prompt)
    told = buildlog("set", "clutch.rated_torque=300 N*m", at=car)
    assert told.status == 0, told.err
    assert asked == ["clutch.rated_torque: another part, or a better figure?"]
    piece = document(car)["clutch"].get("part", {}).get("piece")
    assert piece == (2 if answer == "another" else None)
    assert ("--kind correction" in told.out) == (answer == "better")


def test_another_piece_begins_a_life_of_its_own() -> None:
    one = make_configuration({"clutch.rated_torque": "280 N*m"})
    two = make_configuration({"clutch.rated_torque": "300 N*m", "clutch.part.piece": 2})
    history = [make_version(1, one, kind="found"), make_version(2, one), make_version(3, two)]
    life = part(parts(history), "clutch")
    assert life is not None
    assert life.fitted is history[2]
    assert life.distance == 0


OTHER = {
    "another number": {"clutch.part": {"number": "2"}, "clutch.rated_torque": "300 N*m"},
    "another size": {"clutch.outer_diameter": "240 mm", "clutch.rated_torque": "300 N*m"},
    "stated for the first time": {"gearbox.rated_torque": "300 N*m"},
    "taken out": {"clutch.rated_torque": None},
}  # fmt: skip


@pytest.mark.parametrize("what", OTHER)
def test_what_is_no_better_figure(what: str) -> None:
    assert better_figures(make_configuration(), make_configuration(OTHER[what])) == []


# another car of its kind


def test_a_car_s_description_without_its_history(buildlog: Call, car: Path, tmp_path: Path) -> None:
    told = buildlog("new", tmp_path / "tenth", "--from", car, "--name", "Tern ten", at=tmp_path)
    assert told.status == 0, told.err
    text = (tmp_path / "tenth" / "car.toml").read_text("utf-8")
    found = tomllib.loads(text)
    assert (found["car"]["name"], found["car"]["year"]) == ("Tern ten", 1994)
    assert found["fuel"]["injectors"]["part"] == {"maker": "Tolvane", "number": "TI-310"}
    assert found["engine"]["limit"] == {"value": "250 kW", "source": "builder's letter"}
    assert found["clutch"]["source"] == "Tolvane sheet 12"
    for word in ("1M8GDM9AXKP042788", "88-01", "brother", "tall owner", "T26-001", "2319"):
        assert word not in text
    tenth = tmp_path / "tenth"
    assert buildlog("check", at=tenth).status in (0, 1)
    assert buildlog("record", "-m", "as it came", "--kind", "found", at=tenth).status == 0
    assert len(json.loads(buildlog("history", "--json", at=tenth).out)["entries"]) == 1


def test_a_folder_without_a_car_is_refused(buildlog: Call, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    told = buildlog("new", tmp_path / "new", "--from", tmp_path / "empty", at=tmp_path)
    assert told.status == 3
    assert "there is no car.toml" in told.err
    assert not (tmp_path / "new").exists()


# parts.csv, octane, flows


def test_the_parts_list_carries_the_name_of_a_part() -> None:
    one = make_configuration({"clutch.part": {"maker": "Tolvane", "name": "Clutch 240 sport"}})
    head, *rows = parts_csv(parts([make_version(1, one)])).decode("utf-8-sig").splitlines()
    assert head.split(",")[:4] == ["part", "maker", "name", "number"]
    assert len(HEAD) == head.count(",") + 1
    (row,) = [row for row in rows if row.startswith("clutch,")]
    assert row.split(",")[2] == "Clutch 240 sport"


@pytest.mark.parametrize("typed", ["93 AKI", "93 (R+M)/2", "AKI 93", "(R + M) / 2 93"])
@pytest.mark.parametrize("at", ["fuel.ron", "fuel.mon", "fuel.aki"])
def test_pump_octane_has_a_field_of_its_own(at: str, typed: str, buildlog: Call, car: Path) -> None:
    told = buildlog("set", f"{at}={typed}", at=car)
    if at == "fuel.aki":
        assert told.status == 0, told.err
        assert document(car)["fuel"]["aki"] == 93
        return
    assert told.status == 4
    assert "buildlog set fuel.aki=93" in told.err
    assert buildlog("set", "fuel.aki=93", at=car).status == 0
    assert document(car)["fuel"]["aki"] == 93
    assert "ron" not in document(car)["fuel"]


def flow(changes: dict[str, Any]) -> Any:
    car = MarginCar(Subject(make_configuration(changes), None, load()))
    density = field("fuel.injectors.test_density")
    return volume_flow(car, field("fuel.injectors.flow"), density)


def test_a_flow_by_mass_says_what_it_was_turned_with() -> None:
    # 24 lb/h are 3.024 g/s (0.45359237 kg exactly, scipy.constants 1.17.1); over 0.684 kg/L
    # (n-heptane at 20 degC, CoolProp 8.0.0: 683.8 kg/m^3) 4.421 mL/s
    stated = flow({"fuel.injectors.flow": "24 lb/h", "fuel.injectors.test_density": "0.684 kg/L"})
    assert stated.band.p50 == pytest.approx(4.421e-6, rel=1e-3)
    assert "fuel.injectors.test_density" in " ".join(str(one) for one in stated.sources)
    usual = flow({"fuel.injectors.flow": "24 lb/h"})
    assert usual.band.p50 < stated.band.p50
    assert "gasoline's" in " ".join(str(one) for one in usual.sources)
    volume = flow({"fuel.injectors.flow": "310 cc/min"})
    assert volume.band.p50 == pytest.approx(310e-6 / 60)
    assert "gasoline's" not in " ".join(str(one) for one in volume.sources)
