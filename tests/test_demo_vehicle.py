"""The demo car: its files are what their maker makes, they are valid, and they tell its story."""

from __future__ import annotations

import copy
import datetime as dt
import hashlib
import importlib.util
import io
import json
import re
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
from PIL import Image

from buildlog.channels import CHANNELS
from buildlog.physics.gases import correction
from buildlog.records import reading
from buildlog.records.car.configuration import Configuration
from buildlog.records.car.due import Service
from buildlog.records.checks import Check
from buildlog.records.fasteners import Joint, JointSheet
from buildlog.records.faults import Fault
from buildlog.records.session import Session
from buildlog.records.toml import toml_edit
from buildlog.units import parse

ROOT = Path(__file__).parents[1]
DEMO = ROOT / "demo_vehicle"
STEPS = sorted((DEMO / "steps").glob("*.toml"))
MODELS: dict[str, tuple[Any, str]] = {
    "checks": (Check, "check"),
    "torque": (Joint, "torque"),
    "torque-sheet": (JointSheet, "torque-sheet"),
    "due": (Service, "due"),
    "faults": (Fault, "fault"),
    "dyno": (Session, "session"),
}
# First digits of SHA-256 of names of real makers of cars and parts, so that no name stands here.
REAL = """
001f1e82 055435cb 0600c798 0f7de4da 1c39a011 2422f8ef 27df9ed9 28236bb6 2b584134 30e363d3
337b8d2c 40fc6718 44e8dd36 4d13e1db 573abb3c 6024f0bd 60d441f5 6c427c44 728b8dee 77385bad
784109ed 78fe4a40 8417659f 8551f9e3 917ebb33 9a046660 9bb8c09c 9c15e816 9e48bad6 a394477e
a4a04fef aa59343f ac858922 ad21acb8 b0703010 b0c5f417 b2808c94 b51026e4 b5bced84 b8510932
b942714f bcb3b1a0 bccae4ce c0d0472a c40677cf c5626fc8 ca527c39 d6a705c7 d772cdab d8710cb5
dc7bb5d0 e04c83e4 e462aa65 eac42ad3 efe335d4 f4c8478e f5c1f282 fa5bf879
"""


def read(path: Path) -> dict[str, Any]:
    return tomllib.loads(path.read_text(encoding="utf-8"))


def plain(value: Any) -> Any:
    """Days and times of a TOML file as JSON has them."""
    if isinstance(value, dict):
        return {key: plain(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [plain(inner) for inner in value]
    return value.isoformat() if isinstance(value, dt.date | dt.time) else value


@cache
def schema(name: str) -> jsonschema.Draft202012Validator:
    text = (ROOT / f"shared/schemas/{name}.schema.json").read_text(encoding="utf-8")
    return jsonschema.Draft202012Validator(json.loads(text))


def split_path(path: str) -> list[Any]:
    """The keys of a path; a number is a place in an array."""
    keys = [a or b for a, b in re.findall(r'"([^"]+)"|([^."]+)', path)]
    return [int(key) if key.isdecimal() else key for key in keys]


def apply(values: dict[str, Any], changes: dict[str, Any]) -> dict[str, Any]:
    """The configuration after a step; a removed path must exist."""
    values = copy.deepcopy(values)
    for path in changes.get("remove", []):
        *tables, last = split_path(path)
        here = values
        for table in tables:
            here = here[table]
        del here[last]
    for path, value in changes.items():
        if path == "remove":
            continue
        *tables, last = split_path(path)
        here = values
        for table in tables:
            here = here[table] if isinstance(table, int) else here.setdefault(table, {})
        assert here.get(last) != value, f"{path} already is {value}"
        here[last] = value
    return values


def versions() -> Iterator[tuple[str, dict[str, Any]]]:
    values = read(DEMO / "files/01-found/car.toml")
    for step in STEPS:
        values = apply(values, read(step).get("set", {}))
        yield step.stem, values


def entries() -> dict[int, dict[str, Any]]:
    """What each step says of the car's own entries, by their number."""
    told = {number: read(step) for number, step in enumerate(STEPS, 1)}
    return {number: one["entry"] for number, one in told.items() if "entry" in one}


def times() -> list[dt.datetime]:
    """When each step was recorded, keys counted."""
    told = [next(iter(read(step).values())) for step in STEPS]
    return [dt.datetime.fromisoformat(one["time"]) for one in told]


def generator(name: str = "make_curves") -> Any:
    spec = importlib.util.spec_from_file_location(name, DEMO / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def table(path: Path) -> tuple[list[str], np.ndarray]:
    """Headings and numbers of a raw file, by the plainest reading of the four layouts."""
    data = path.read_bytes()
    text = data.decode("latin-1" if b"Zeit;" in data else "utf-8-sig")
    lines = [line for line in text.splitlines() if line and not line.startswith("#")]
    delimiter = next(sign for sign in "\t;," if sign in lines[0])
    cells = [line.split(delimiter) for line in lines]
    numbers = cells[2:] if cells[1][0].startswith("[") else cells[1:]
    comma = delimiter == ";"
    return cells[0], np.array(
        [[float(c.replace(",", ".") if comma else c) for c in r] for r in numbers]
    )


SESSIONS = sorted((DEMO / "files").glob("*/dyno/*/session.toml"))


def pulls(session_file: Path) -> Iterator[tuple[str, dict[str, np.ndarray]]]:
    """Each pull's channels in SI."""
    session = read(session_file)
    for pull in session["pull"]:
        headings, numbers = table(session_file.parent / pull["file"])
        first, last = pull.get("rows", (1, len(numbers)))
        channels = {}
        for column in session["column"]:
            raw = numbers[first - 1 : last, headings.index(column["name"])]
            unit = column.get("unit")
            dimensions = CHANNELS[column["channel"]]
            if unit is not None:
                zero, one = (parse(f"{n} {unit}", dimensions).si for n in (0, 1))
                raw = zero + raw * (one - zero)
            channels[column["channel"]] = raw
        yield pull.get("key", pull["file"]), channels


def session(name: str) -> dict[str, dict[str, np.ndarray]]:
    return dict(pulls(next(path for path in SESSIONS if path.parent.name.endswith(name))))


def test_generated_files_are_what_their_maker_makes() -> None:
    made = generator().everything()
    assert len(made) == 19
    for name, data in made.items():
        assert (DEMO / "files" / name).read_bytes() == data, name
    raw = {p for p in (DEMO / "files").rglob("*") if p.is_file() and p.suffix != ".toml"}
    cards = set(generator("draw_cards").CARDS)
    assert {p.relative_to(DEMO / "files").as_posix() for p in raw} == set(made) | cards


def test_the_cards_are_drawn_and_no_photographs() -> None:
    """Alike to what their maker draws today, whatever library wrote either JPEG."""
    maker = generator("draw_cards")
    assert [name for name in maker.CARDS if "/cover-" in name]
    for name in maker.CARDS:
        kept, drawn = (np.asarray(Image.open(io.BytesIO(data)), float) for data in (
            (DEMO / "files" / name).read_bytes(), maker.drawn(name)))  # fmt: skip
        assert kept.shape == drawn.shape == (600, 960, 3)
        assert np.abs(kept - drawn).mean() < 3


def test_the_second_loggers_shift_is_found() -> None:
    """Engine speed by the logger runs as the pulls' does, later by what its maker put in."""
    for number, late in ((1, 7.2), (2, 6.6), (3, 8.1)):
        name = f"09-stage-2/dyno/2026-05-09-stage-2/exhaust-{number}.csv"
        _, numbers = table(DEMO / "files" / name)
        pull = session("2026-05-09-stage-2")[f"pull-{number}"]
        speed = np.interp(pull["time"] + late, numbers[:, 0], numbers[:, 1])
        assert np.abs(speed - pull["engine_speed"] * 30 / np.pi).mean() < 15
        assert len(numbers) / np.ptp(numbers[:, 0]) == pytest.approx(10, abs=0.2)


def test_every_version_of_the_car_is_valid() -> None:
    first = (DEMO / "files/01-found/car.toml").read_bytes()
    record, findings = reading.load(Configuration, first, "car.toml")
    assert record is not None
    assert findings == []
    for _, values in versions():
        Configuration.model_validate(values)
        schema("car").validate(plain(values))


@pytest.mark.parametrize("folder", MODELS)
def test_every_other_record_is_valid(folder: str) -> None:
    model, schema_name = MODELS[folder]
    place, of_a_sheet = f"/{folder.removesuffix('-sheet')}/", folder.endswith("-sheet")
    files = [p for p in (DEMO / "files").rglob("*.toml") if place in p.as_posix()]
    files = [p for p in files if p.name.endswith(".sheet.toml") == of_a_sheet]
    assert files
    for path in files:
        record, findings = reading.load(model, path.read_bytes(), path.name)
        assert record is not None, findings
        assert findings == []
        schema(schema_name).validate(plain(read(path)))


def test_the_car_file_keeps_house_style() -> None:
    text = (DEMO / "files/01-found/car.toml").read_text(encoding="utf-8")
    code = [line.split("#")[0].strip() for line in text.splitlines()]
    assert not [line for line in code if "{" in line]
    assert not [line for line in code if re.match(r"[\w-]+\.", line)]
    tables = [line.strip("[]").split(".")[0] for line in code if line.startswith("[")]
    order = [name for name in Configuration.model_fields if name in tables]
    assert list(dict.fromkeys(tables)) == order


def test_entries_follow_one_another() -> None:
    told = entries().values()
    assert [step.stem[:2] for step in STEPS] == [f"{n:02}" for n in range(1, len(STEPS) + 1)]
    assert [entry["date"] for entry in told] == sorted(entry["date"] for entry in told)
    miles = [parse(entry["odometer"], ("length",)).si for entry in told]
    assert miles == sorted(miles)
    assert times() == sorted(times())
    days = [dt.datetime.fromisoformat(entry["time"]).date() for entry in told]
    assert days == [entry["date"] for entry in told]
    stages = [entry["stage"] for entry in told if "stage" in entry]
    assert stages == ["as-found", "baseline", "stage-1", "stage-2", "stage-2-recheck"]


def test_references_point_back_to_what_they_mean() -> None:
    told = entries()
    (correction,) = (n for n, e in told.items() if e["kind"] == "correction")
    (resolving,) = (n for n, e in told.items() if "resolves" in e)
    assert told[correction]["corrects"] < correction
    assert told[told[resolving]["resolves"]]["kind"] == "fault"
    fault = next((DEMO / "files").glob("*/faults/*closed.toml"))
    assert list((DEMO / "files").glob(f"*/faults/{read(fault)['closes']}.toml"))
    for again in (DEMO / "files").glob("*/torque/*.toml"):
        if "retorque_of" in read(again):
            assert list((DEMO / "files").glob(f"*/torque/{read(again)['retorque_of']}.toml"))


def test_calibration_files_have_the_stated_digest() -> None:
    seen = set()
    for _, values in versions():
        calibration = values["calibration"]
        if "file" in calibration:
            (path,) = (DEMO / "files").glob(f"*/{calibration['file']}")
            digest = hashlib.sha256(path.read_bytes()).hexdigest()
            assert digest == calibration["file_sha256"]
            seen.add(calibration["id"])
    assert seen == {"T26-002", "T26-003", "T26-004"}


def test_hardware_changed_before_the_calibration_did() -> None:
    by_name = dict(versions())
    stage_1, parts, corrected = (
        by_name[n] for n in ("04-stage-1", "05-stage-2-parts", "07-calibration")
    )
    assert parts["calibration"] == stage_1["calibration"]
    assert parts["fuel"]["injectors"]["flow"] != stage_1["fuel"]["injectors"]["flow"]
    assert corrected["calibration"]["id"] == "T26-004"
    for path, value in corrected["calibration"]["written_for"].items():
        here: Any = corrected
        for name in path.split("."):
            here = here[name]
        assert here == value, path


def test_the_programs_own_editor_replays_the_steps() -> None:
    data = (DEMO / "files/01-found/car.toml").read_bytes()
    for step, (_, meant) in zip(STEPS, versions(), strict=True):
        changes = read(step).get("set", {})
        for path in changes.pop("remove", []):
            data = toml_edit.delete(data, path)
        data = toml_edit.set_values(data, changes, order=list(Configuration.model_fields))
        assert tomllib.loads(data.decode()) == meant


@pytest.mark.parametrize("path", SESSIONS, ids=lambda p: p.parent.name)
def test_the_package_corrects_back_what_the_generator_took_out(path: Path) -> None:
    """Two programs, two vapour-pressure formulas (Magnus there, Goff-Gratch here)."""
    told = reading.read(Session, path.read_bytes(), path.name)
    assert told.air is not None
    air = [getattr(told.air, name).si for name in ("pressure", "temperature", "humidity")]
    ours = correction.factor("SAE J1349", air[0], air[1], relative_humidity=air[2])
    theirs = generator().factor_j1349(air[0], air[1] - 273.15, air[2])
    assert ours.value == pytest.approx(theirs, rel=2e-4)
    assert ours.inside_limits


def test_files_lie_beside_their_steps() -> None:
    names = {step.stem for step in STEPS}
    assert {folder.name for folder in (DEMO / "files").iterdir()} <= names
    for path in SESSIONS:
        entry = read(DEMO / "steps" / f"{path.parents[2].name}.toml")["entry"]
        told = read(path)
        assert (told["date"], told["odometer"]) == (entry["date"], entry["odometer"])
        assert entry["kind"] == "dyno"
        for field in ("place", "altitude", "gear", "tyre_pressure", "strapping", "dyno", "fuel"):
            assert field in told, field
        assert set(told["air"]) == {"temperature", "pressure", "humidity"}
        assert told["standard_applied"] == "none"


@pytest.mark.parametrize("path", SESSIONS, ids=lambda p: p.parent.name)
def test_raw_files_hold_the_columns_the_session_names(path: Path) -> None:
    """Torque times engine speed is power, to what the file's rounding leaves (definition)."""
    found = dict(pulls(path))
    assert len(found) >= 3
    for channels in found.values():
        assert len(channels["power"]) > 200
        assert all(np.isfinite(values).all() for values in channels.values())
        if "torque" in channels:
            moving = channels["power"] > 20e3
            product = channels["torque"] * channels["engine_speed"]
            np.testing.assert_allclose(product[moving], channels["power"][moving], rtol=3e-3)


def peak_hp(channels: dict[str, np.ndarray], low: float, high: float) -> float:
    """Observed peak from a parabola through the rows of a range [rpm]."""
    speed = channels["engine_speed"] * 30 / np.pi
    near = (speed > low) & (speed < high)
    a, b, c = np.polyfit(speed[near] - low, channels["power"][near] / 745.7, 2)
    return float(c - b * b / (4 * a))


def test_peaks_rise_from_stage_to_stage_and_stay_below_the_rating() -> None:
    """Wheel over crank rating of 0.80 to 0.88 is usual here (common practice, no source)."""
    base = [peak_hp(p, 4900, 6300) for n, p in session("baseline").items() if n != "pull-3.csv"]
    stage_1 = session("2026-03-14-stage-1")
    first = [peak_hp(p, 5000, 6350) for n, p in stage_1.items() if n.startswith("t26-002")]
    second = [peak_hp(p, 5000, 6350) for n, p in stage_1.items() if n.startswith("t26-003")]
    stage_2 = [peak_hp(p, 5150, 6300) for p in session("2026-05-09-stage-2").values()]
    assert 0.80 * 170 < np.mean(base) < 0.88 * 170
    assert np.mean(base) < np.mean(first) < np.mean(second) < 0.75 * np.mean(stage_2)
    spreads = [np.std(x, ddof=1) / np.mean(x) for x in (first, second, stage_2)]
    assert 0.0005 < np.sqrt(np.mean(np.square(spreads))) < 0.01


def dip(speed: np.ndarray, values: np.ndarray) -> float:
    """Depth near 4,900 rpm below a parabola through both sides of it, as a share."""
    about = (abs(speed - 4900) < 900) & (abs(speed - 4900) > 300)
    line = np.polyfit(speed[about] - 4900, values[about], 2)
    middle = abs(speed - 4900) < 60
    return float(1 - np.mean(values[middle] / np.polyval(line, speed[middle] - 4900)))


def test_the_sag_is_in_every_pull_and_other_channels_share_it() -> None:
    for channels in session("2026-05-09-stage-2").values():
        speed = channels["engine_speed"] * 30 / np.pi
        assert 0.02 < dip(speed, channels["power"]) < 0.05
        assert dip(speed, channels["boost"]) > 0.04
        assert dip(speed, channels["fuel_pressure"]) > 0.005
        assert abs(dip(speed, channels["spark"])) < 0.01
    for channels in session("baseline").values():
        speed = channels["engine_speed"] * 30 / np.pi
        assert abs(dip(speed[:230], channels["power"][:230])) < 0.012


def test_the_recheck_has_no_engine_speed_but_the_tyre_gives_it() -> None:
    values = dict(versions())["16-stage-2-recheck"]
    circumference = parse(values["tyres"]["rolling_circumference"], ("length",)).si
    overall = values["gearbox"]["ratios"][3] * values["final_drive"]["ratio"]
    for channels in session("recheck").values():
        assert "engine_speed" not in channels
        speed = channels["road_speed"] / circumference * overall * 60
        assert 1900 < speed[0] < 2150
        assert 6000 < speed[-1] < 6400


def test_three_layouts_and_both_unit_systems() -> None:
    heads = {table(path.parent / read(path)["pull"][0]["file"])[0][0] for path in SESSIONS}
    assert len(heads) == 4
    units = {column.get("unit") for path in SESSIONS for column in read(path)["column"]}
    assert {"hp", "kW", "lb-ft", "Nm", "mph", "km/h"} <= units


def test_what_is_missing_is_missing_on_purpose() -> None:
    last = dict(versions())["16-stage-2-recheck"]
    assert "rated_torque" not in last["gearbox"]
    assert "connecting_rods" not in last["engine"]
    found = read(DEMO / "files/01-found/car.toml")
    assert set(found["clutch"]) == {"part"}
    assert not {"fitted_at_odometer", "fitted_on", "distance_before"} & set(found["clutch"]["part"])


def test_nothing_real_is_named() -> None:
    for path in [*DEMO.rglob("*.toml"), *DEMO.rglob("*.md"), *DEMO.rglob("*.py")]:
        words = set(re.findall(r"[a-z]+", path.read_text(encoding="utf-8").lower()))
        named = {w for w in words if hashlib.sha256(w.encode()).hexdigest()[:8] in REAL.split()}
        assert not named, path.name
