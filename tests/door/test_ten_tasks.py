"""Ten things that somebody does in a notebook or a script, each as it would be written there."""

from __future__ import annotations

import hashlib
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

import buildlog
from tests.cli.dyno_ledger import dyno_ledger
from tests.conftest import Call
from tests.histories import loosen

BUNDLE = Path(__file__).parents[1] / "golden" / "demo-0.1.0.bundle"


@pytest.fixture(autouse=True)
def here(monkeypatch: pytest.MonkeyPatch, demo_copy: Path) -> None:
    """The demo lies in the present folder, as after the README's first command."""
    monkeypatch.chdir(demo_copy.parent)
    demo_copy.rename("demo-ledger")


def test_curves_of_all_pulls_of_a_car_in_one_frame() -> None:
    pandas = pytest.importorskip("pandas")
    with buildlog.open("demo-ledger") as car:
        frame = pandas.concat([car.sheet(name).to_frame() for name in car.sessions])
        pulls = sum(len(car.sheet(name).pulls) for name in car.sessions)
    peaks = frame[frame.channel == "power"].groupby(["session", "pull"]).value.max() / 1000
    assert len(peaks) == pulls > 10
    assert peaks["2026-05-09-stage-2"].max() == pytest.approx(158, abs=1)


def test_fifty_cars_compared_one_of_them_damaged(tmp_path: Path) -> None:
    _fifty(tmp_path / "cars")
    shop = buildlog.shop(tmp_path / "cars")
    gains, seen = {}, []
    for car in shop:
        seen.append(car)
        d = car.diff("first", "latest")
        gains[car.place.name] = car.sheet().peak_power_w, len(d.changes)
    assert len(gains) == 49
    assert [finding.where for finding in shop.findings] == [str(tmp_path / "cars" / "car-17")]
    assert all("closed" in repr(car) for car in seen), "one car is open at a time"


def test_a_car_damaged_where_only_the_question_looks_is_a_finding_too(tmp_path: Path) -> None:
    _fifty(tmp_path / "cars", count=3, damaged="raw")
    shop = buildlog.shop(tmp_path / "cars")
    answers = list(shop.ask(lambda car: car.sheet().peak_power_w))
    assert len(answers) == 2
    assert "car-1 could not be read" in shop.findings[0].text


def test_a_foreign_bundle_read_with_its_verdict() -> None:
    with buildlog.open(BUNDLE) as car:
        told = (
            car.verdict,
            car.verify().does_not_prove[0],
            car.version("stage-2").peak_wheel_power_w,
        )
    assert told[0] == "consistent"
    assert "rewr" in told[1]
    assert told[2] == pytest.approx(157.4e3, abs=100)


def test_an_edit_previewed_abandoned_recorded() -> None:
    with buildlog.open("demo-ledger") as car:
        with car.edit(by="D-07") as work:
            work.set("exhaust.pipe_diameter", "63.5 mm")
            preview = work.preview()
            work.abandon()
        with car.edit(by="D-07") as work:
            work.set("exhaust.pipe_diameter", "60 mm")
            entry = work.record("exhaust", odometer="89700 mi", stage="stage-3")
        newer = car.fresh()
    with newer as car:
        pipe = car.version("stage-3").configuration.exhaust.pipe_diameter  # type: ignore[union-attr]
    assert [str(change.new) for change in preview.changes] == ["63.5 mm"]
    assert (entry.number, pipe and pipe.si) == (17, 0.06)


def test_peak_power_against_the_odometer() -> None:
    with buildlog.open("demo-ledger") as car:
        measured = [v for v in car.history if v.peak_wheel_power_w and v.odometer]
        points = [(v.odometer.to("mi"), v.peak_wheel_power_w / 745.7) for v in measured]  # type: ignore
        figure = car.plot(against="odometer")
    assert [round(hp, 1) for _, hp in points] == [141.8, 150.9, 211.1, 207.3]
    assert [round(miles) for miles, _ in points] == [88318, 88642, 89183, 89541]
    assert figure.axes[0].lines


def test_margins_of_every_version_as_a_table() -> None:
    pandas = pytest.importorskip("pandas")
    with buildlog.open("demo-ledger") as car:
        rows = [
            {"version": v.name, "limit": m.name, "state": m.state, "share": m.share and m.share.p50}
            for v in car.history
            for m in car.margins(v)
        ]
    table = pandas.DataFrame(rows).pivot(index="limit", columns="version", values="state")
    assert table.loc["clutch torque", "stage-2"] == "close"
    assert table.shape[1] == 16


def test_a_prediction_of_a_plan(buildlog: Call) -> None:
    buildlog("plan", "new", "cam", "--ledger", "demo-ledger")
    buildlog("plan", "set", "cam", "exhaust.back_pressure=4 kPa",
             "exhaust.back_pressure_at_power=210 hp", "--ledger", "demo-ledger")  # fmt: skip
    import buildlog as library

    with library.open("demo-ledger") as car:
        plan = car.predict("stage-2", "plan:cam")
        gain_w = plan.peak_delta_w
    assert gain_w.p10 <= gain_w.p50 <= gain_w.p90
    assert plan.after.name == "plan:cam"
    assert not plan.lies


def test_a_raw_files_bytes() -> None:
    path = "dyno/2026-05-09-stage-2/pulls.txt"
    with buildlog.open("demo-ledger") as car:
        data = car.raw(path)
        assert car.raw(path, "stage-2") == data
    git = ["git", "-C", "demo-ledger", "show", f"main:{path}"]
    shown = subprocess.run(git, capture_output=True, check=True).stdout
    assert hashlib.sha256(data).digest() == hashlib.sha256(shown).digest()


def test_parts_with_their_distance() -> None:
    with buildlog.open("demo-ledger") as car:
        run = {part.path: part.distance_m for part in car.parts if part.distance_m}
    assert run["clutch"] == pytest.approx((89541 - 88971) * 1609.344, abs=1)  # miles since fitted


@pytest.mark.parametrize(("damage", "status"), [(False, 0), (True, 5)])
def test_verify_in_a_script_with_its_exit(damage: bool, status: int) -> None:
    script = "import sys, buildlog; sys.exit(buildlog.open(sys.argv[1]).verify().exit_status)"
    if damage:
        loosen(Path("demo-ledger"))
        blob = _object("demo-ledger", "main~1:car.toml")
        (Path("demo-ledger/.git/objects") / blob[:2] / blob[2:]).write_bytes(b"flipped")
    here = Path(buildlog.__file__).parents[1]
    done = subprocess.run(
        [sys.executable, "-c", f"import sys; sys.path.insert(0, {str(here)!r}); {script}",
         "demo-ledger"], check=False,
    )  # fmt: skip
    assert done.returncode == status


def _fifty(folder: Path, count: int = 50, damaged: str = "history") -> None:
    """Copies of one car with two dyno visits; one has lost an object."""
    visits: list[tuple[str, dict[str, Any]]] = [
        ("one", {"peaks": [100e3]}), ("two", {"peaks": [120e3]}),
    ]  # fmt: skip
    first = dyno_ledger(folder / "car-0", visits)
    for number in range(1, count):
        shutil.copytree(first, folder / f"car-{number}")
    victim = folder / ("car-17" if count > 17 else "car-1")
    name = "main~1" if damaged == "history" else "main:dyno/2026-03-02-two/pull-1.csv"
    blob = _object(victim, name)
    loosen(victim)
    (victim / ".git/objects" / blob[:2] / blob[2:]).unlink()


def _object(folder: str | Path, name: str) -> str:
    git = ["git", "-C", str(folder), "rev-parse", name]
    return subprocess.run(git, capture_output=True, text=True, check=True).stdout.strip()
