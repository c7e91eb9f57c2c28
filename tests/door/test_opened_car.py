"""An opened car: names, arrays, absent blocks, what is closed, what is somebody else's."""

from __future__ import annotations

import inspect
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import buildlog
from buildlog.desk.views.view import Absent
from tests.cli.dyno_ledger import dyno_ledger

BUNDLE = Path(__file__).parents[1] / "golden" / "demo-0.1.0.bundle"
# What the name of a bare number ends with; counts and words of a version apart.
UNITS = ("_w", "_nm", "_pa", "_rpm", "_kmh", "_m", "_si", "_ratio")


@pytest.fixture(scope="module")
def car(demo: Path) -> Iterator[buildlog.OpenedCar]:
    with buildlog.open(demo) as opened:
        yield opened


# names


@pytest.mark.parametrize(
    "name", ["working", "latest", "first", "last-dyno", "12", "stage-1", "1faeca9a"]
)
@pytest.mark.one_in(4)
def test_a_version_goes_wherever_a_name_goes(car: buildlog.OpenedCar, name: str) -> None:
    version = car.version(name)
    assert car.version(version.id or version.name) == version
    for ask in (car.margins, car.headroom, lambda v: car.diff("first", v)):
        assert ask(version).to_dict() == ask(name).to_dict()  # type: ignore[operator]


def test_a_version_says_what_the_entry_says(car: buildlog.OpenedCar) -> None:
    stage = car.version("stage-2")
    assert (stage.number, stage.stage, stage.kind) == (9, "stage-2", "dyno")
    assert stage.sessions == ("2026-05-09-stage-2",)
    assert stage.odometer is not None
    assert stage.odometer.to("mi") == pytest.approx(89183)
    assert stage.configuration.induction is not None
    assert (str(stage), repr(stage)) == (
        "stage-2", "<stage-2: entry 9, 1faeca9a, 2026-05-09, 89183 mi, dyno>",
    )  # fmt: skip
    working = car.version("working")
    assert (working.number, working.id, working.odometer, working.date) == (None,) * 4
    assert repr(working) == "<working>"
    assert len({car.version("9"), stage, working}) == 2


def test_a_version_of_another_car_is_refused_and_one_of_a_newer_head_found(
    car: buildlog.OpenedCar, demo_copy: Path, tmp_path: Path
) -> None:
    other = dyno_ledger(tmp_path / "other", [("one", {"peaks": [100e3]})])
    with buildlog.open(other) as stranger, pytest.raises(buildlog.UsageError, match="another car"):
        car.diff("first", stranger.version("latest"))
    with buildlog.open(demo_copy) as twin:
        assert twin.diff("first", car.version("stage-1")).after == car.version("stage-1")


def test_wrong_names_list_the_nearest(car: buildlog.OpenedCar) -> None:
    for ask in (
        lambda: car.version("stage-3"),
        lambda: car.diff("stage-1", "stag-2"),
        lambda: car.sheet("stage-9"),
        lambda: car.raw("dyno/2026-05-09-stage-2/pull.txt"),
        lambda: car.predict("baseline", "plan:cam"),
    ):
        with pytest.raises(buildlog.NotFound) as caught:
            ask()
        assert caught.value.hint
    with pytest.raises(buildlog.UsageError):
        car.diff(standard="SAE J0000")


# arrays


def test_curves_are_arrays_that_nobody_can_write_over(car: buildlog.OpenedCar) -> None:
    sheet = car.sheet("2026-05-09-stage-2")
    for pull in sheet.pulls:
        arrays = [pull.axis_rpm, pull.axis_kmh, pull.power_w, pull.torque_nm, pull.observed_w]
        arrays += [*pull.channels.values()]
        assert {array.shape for array in arrays} == {pull.power_w.shape}
        for array in arrays:
            with pytest.raises(ValueError, match="read-only"):
                array[0] = 0
        # P = M * omega, which is what torque referred to engine speed means
        omega = pull.axis_rpm * 2 * np.pi / 60
        assert pull.torque_nm * omega == pytest.approx(pull.power_w)
        assert pull.units["boost"] == "Pa"
        assert pull.units["lambda"] == "1"
        assert set(pull.units) == set(pull.channels)
    mean = sheet.mean
    assert float(np.nanmax(mean.power_w)) == pytest.approx(sheet.peak_power_w, rel=0.01)
    assert not mean.axis_kmh
    assert mean.half_width_95_w.shape == mean.axis_rpm.shape == mean.power_w.shape


def test_a_measured_difference_is_the_commands_in_arrays(car: buildlog.OpenedCar) -> None:
    d = car.diff("stage-1", "stage-2")
    told = d.to_dict()["measured"]
    assert d.measured.axis_rpm.tolist() == told["curve"]["grid"]
    assert d.measured.delta_w.tolist() == told["curve"]["delta_w"]
    assert (d.measured.to_w - d.measured.from_w).tolist() == d.measured.delta_w.tolist()
    assert d.measured.half_width_95_w.tolist() == told["curve"]["half_width_95_w"]
    assert d.measured.power.peak_delta_w == told["power"]["peak_delta"]
    assert d.measured.power.half_width_95_w == told["power"]["half_width_95"]
    assert d.measured.torque.peak_delta_nm == told["torque"]["peak_delta"]
    assert d.predicted.peak_delta_w.p50 == d.to_dict()["predicted"]["peak_power"]["p50"]
    assert d.predicted.p10_w.shape == d.predicted.axis_rpm.shape
    assert d.predicted.lies.where == "inside"
    names = [one["name"] for one in d.to_dict()["margins"]]
    assert [pair.name for pair in d.margins] == names


def test_a_frame_holds_what_the_arrays_hold(car: buildlog.OpenedCar) -> None:
    pandas = pytest.importorskip("pandas")
    sheet = car.sheet("2026-05-09-stage-2")
    frame = sheet.to_frame()
    columns = ["session", "pull", "axis", "axis_unit", "channel", "value", "unit", "standard"]
    assert list(frame.columns) == columns
    assert isinstance(frame, pandas.DataFrame)
    for pull in sheet.pulls:
        rows = frame[(frame.pull == pull.name) & (frame.channel == "power")]
        assert rows.value.tolist() == pull.power_w.tolist()
        assert rows.axis.tolist() == pull.axis_rpm.tolist()
        assert set(rows.unit) == {"W"}
        assert set(rows.standard) == {sheet.standard}
        boost = frame[(frame.pull == pull.name) & (frame.channel == "boost")]
        assert boost.value.tolist() == pull.channels["boost"].tolist()
        assert set(boost.standard) == {""}
    assert set(frame.axis_unit) == {"rpm"}


def test_a_frame_without_pandas_says_what_to_install(
    car: buildlog.OpenedCar, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "pandas", None)
    with pytest.raises(buildlog.MissingExtra) as caught:
        car.sheet().to_frame()
    assert "pip install pandas" in (caught.value.hint or "")


def everything(car: buildlog.OpenedCar) -> Iterator[tuple[str, str, Any]]:
    """Every public attribute of every object that the door gives, with where it stands."""
    seen: set[int] = set()

    def look(where: str, held: Any, depth: int) -> Iterator[tuple[str, str, Any]]:
        own = type(held).__module__.startswith("buildlog.desk.") and not inspect.ismodule(held)
        if not own or id(held) in seen or depth > 4:
            return
        seen.add(id(held))
        keep.append(held)
        for name in dir(held):
            if name.startswith("_") or callable(getattr(type(held), name, None)):
                continue
            try:
                value = getattr(held, name)
            except buildlog.BuildlogError:
                continue
            yield type(held).__name__, name, value
            for one in value[:3] if isinstance(value, tuple) else [value]:
                yield from look(name, one, depth + 1)

    keep: list[Any] = []
    diff, pull = car.diff("stage-1", "stage-2"), car.sheet().pulls[0]
    views: list[Any] = [
        car, diff, car.sheet(), pull, car.margins(), *car.margins()[:3], car.headroom(),
        car.predict("stage-1"), car.next(), *car.next().actions, *car.parts[:4], car.check(),
        car.verify(), car.version("stage-2"), diff.measured.power, diff.measured.torque,
    ]  # fmt: skip
    for view in views:
        yield from look(type(view).__name__, view, 0)


def test_a_bare_number_has_its_unit_in_its_name(car: buildlog.OpenedCar) -> None:
    found = [(of, name, value) for of, name, value in everything(car)]
    numbers = {(of, name) for of, name, value in found if isinstance(value, float | np.ndarray)}
    assert len(numbers) > 25
    assert [one for one in numbers if not one[1].endswith(UNITS)] == []


# what is not there


def test_an_absent_block_is_false_and_says_why(tmp_path: Path) -> None:
    folder = dyno_ledger(tmp_path / "car", [("one", {"peaks": [100e3, 101e3]})])
    with buildlog.open(folder) as car:
        d = car.diff("first", "latest")
        for block in (d.measured, d.predicted):
            assert not block
            assert isinstance(block, Absent)
            with pytest.raises(buildlog.NotFound, match=block.reason[:20]):
                block.power  # noqa: B018
            with pytest.raises(buildlog.NotFound):
                list(block)
            with pytest.raises(buildlog.NotFound):
                len(block)
            assert not hasattr(block, "power")
            assert block.reason in repr(block)


def test_a_closed_car_says_so_and_answers_nothing(demo: Path) -> None:
    car = buildlog.open(demo)
    version = car.version("stage-1")
    car.close()
    car.close()
    assert "closed" in repr(car)
    for ask in (
        lambda: car.head, lambda: car.history, lambda: car.diff(), lambda: car.sheet(),
        lambda: car.margins(), lambda: car.parts, lambda: car.verify(), lambda: car.edit(),
        lambda: car.raw("car.toml"), lambda: car.version("first"), lambda: car.check(),
    ):  # fmt: skip
        with pytest.raises(buildlog.InvalidInput, match="closed"):
            ask()
    assert version.name == "stage-1"


@pytest.mark.parametrize("inside", ["", "dyno", "dyno/2026-05-09-stage-2"])
def test_any_folder_of_the_ledger_opens_it(demo: Path, inside: str) -> None:
    with buildlog.open(str(demo / inside)) as car:
        assert car.place == demo
        assert len(car.history) == 16


# handovers


def test_a_foreign_bundle_opens_with_its_verdict_and_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    with buildlog.open(BUNDLE) as car:
        assert car.verdict == "consistent"
        assert "consistent" in repr(car)
        assert len(car.history) == 13
        assert car.diff("stage-1", "stage-2").measured
        assert car.verify().verdict == "consistent"
        assert list(tmp_path.iterdir())
        with pytest.raises(buildlog.InvalidInput, match="cannot be edited"):
            car.edit()
        with car.fresh() as again:
            assert again.head == car.head
        assert car.version("stage-2").configuration.engine
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("cut", [30, 2000, -1000])
def test_a_bundle_that_cannot_be_read_is_refused_and_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, cut: int
) -> None:
    file, place = tmp_path / "cut.bundle", tmp_path / "t"
    place.mkdir()
    file.write_bytes(BUNDLE.read_bytes()[:cut])
    monkeypatch.setattr("tempfile.tempdir", str(place))
    with pytest.raises(buildlog.DamagedLedger) as caught:
        buildlog.open(file)
    assert caught.value.where == str(file)
    assert list(place.iterdir()) == []


# threads


def test_eight_threads_ask_one_car_while_a_ninth_records(demo_copy: Path) -> None:
    with buildlog.open(demo_copy) as car:
        asked = [
            lambda: len(car.diff("stage-1", "stage-2").changes),
            lambda: car.head,
            lambda: [pair.name for pair in car.diff("stage-1", "stage-2").margins],
            lambda: car.sheet().peak_power_w,
            lambda: [row.state for row in car.margins()],
            lambda: len(car.history),
            lambda: car.version("latest").id,
            lambda: [part.distance_m for part in car.parts],
        ]
        alone = [ask() for ask in asked]
    with buildlog.open(demo_copy) as car, ThreadPoolExecutor(9) as pool:
        ninth = pool.submit(_record, demo_copy)
        found = [pool.submit(ask) for ask in asked]
        assert [one.result() for one in found] == alone
        assert ninth.result() == 21
        assert len(car.history) == 16
        with car.fresh() as newer:
            assert len(newer.history) == 21


def _record(folder: Path) -> int:
    number = 0
    for step in range(5):
        with buildlog.open(folder) as car, car.edit(by="D-07") as work:
            work.work(f"step {step}")
            number = work.record(f"step {step}", odometer="89700 mi").number
    return number
