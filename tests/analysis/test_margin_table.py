"""Each margin's two files hold all of it: definition, an example worked on paper, both sides."""

from __future__ import annotations

import datetime as dt
import subprocess
import sys
import tomllib
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from types import ModuleType
from typing import Any, get_args

import pytest

from buildlog.analysis.car.priors import load
from buildlog.analysis.margins import kinds
from buildlog.analysis.margins.figures.margin_car import (
    KnownGood,
    MarginCar,
    Subject,
    with_power,
)
from buildlog.analysis.margins.figures.margin_rows import Row
from buildlog.analysis.margins.first_reached import boost_for
from buildlog.analysis.margins.kinds.engine.piston_speed import USUAL_LIMIT
from buildlog.analysis.margins.margin_table import FILES, margin_file
from buildlog.physics.numerics.band import Band
from buildlog.physics.parts.margin import Margin, Rule, State
from buildlog.records.car.configuration import Configuration
from buildlog.records.fasteners import Joint
from buildlog.report.as_text.margins_text import value
from buildlog.report.numbers import Display, System
from tests.analysis.margin_cars import example, run_of
from tests.builders import changed
from tests.conftest import ROOT

TABLE = tomllib.loads((ROOT / "shared/tables/margin-examples.toml").read_text(encoding="utf-8"))
CAR = {"format": 1, "car": {"name": "Marrow Tern 2.6", "power_source": "spark-ignition"}}
JOINT = {"format": 1, "joint": "flywheel", "date": dt.date(2026, 4, 24)}


def configuration(*changes: Mapping[str, Any]) -> Configuration:
    return Configuration.model_validate(changed(CAR, {k: v for c in changes for k, v in c.items()}))


def subject(name: str) -> Subject:
    """The car of a margin's example."""
    given = example(name)
    before, joint = given.get("before"), given.get("joint")
    return Subject(
        configuration(given["car"]),
        run_of(**given["run"]) if "run" in given else None,
        load(),
        given.get("on"),
        {"j": Joint.model_validate({**JOINT, **joint})} if joint else {},
        KnownGood("before", configuration(given["car"], before), None) if before else None,
    )


def worked(name: str, car: Subject) -> Row:
    (one,) = margin_file(name).rows(MarginCar(car))
    return one


def test_the_table_names_every_file_and_no_other() -> None:
    folder = Path(kinds.__file__).parent
    there = {
        ".".join(path.relative_to(folder).with_suffix("").parts)
        for path in folder.rglob("[!_]*.*")
        if path.suffix in (".py", ".toml")
    }
    assert set(FILES.values()) == there
    assert len(set(FILES.values())) == len(FILES)


@pytest.mark.parametrize("name", FILES)
def test_a_file_defines_the_margin_that_the_table_says(name: str) -> None:
    assert margin_file(name).kind.name == name


@pytest.mark.parametrize("name", FILES)
def test_the_worked_example_comes_out(name: str) -> None:
    given, one = example(name), worked(name, subject(name))
    assert one.margin.demand is not None, one.ask
    assert one.margin.capacity is not None, one.ask
    assert one.margin.demand.p50 == pytest.approx(given["demand"], rel=1e-3)
    assert one.margin.capacity.p50 == pytest.approx(given["capacity"], rel=1e-3)
    assert given["by_hand"]


@pytest.mark.parametrize("name", FILES)
def test_what_each_side_was_read_from_is_named_and_asked_for_where_it_is_gone(name: str) -> None:
    """Without any one field of the example the margin asks for a field, or another source serves
    and is named; it never answers with the same words."""
    stated, full = example(name)["car"], worked(name, subject(name))
    for path in stated:
        left = {k: v for k, v in stated.items() if k != path}
        car = replace(subject(name), configuration=configuration(left))
        for one in margin_file(name).rows(MarginCar(car)):
            known = (one.basis, one.sources, one.margin.demand, one.margin.capacity)
            was = (full.basis, full.sources, full.margin.demand, full.margin.capacity)
            assert one.ask or one.note or known != was, path


@pytest.mark.parametrize("name", FILES)
def test_what_is_said_to_be_driven_by_power_moves_with_it_and_nothing_else_does(name: str) -> None:
    car = subject(name)
    car = (
        car
        if car.run
        else replace(car, run=replace(run_of("crank", 100e3, 600.0), basis="predicted"))
    )
    assert car.run is not None
    power = 1.2 * car.run.power.p50
    raised = with_power(car, power, boost_for(MarginCar(car))(power))
    before, after = worked(name, car).margin, worked(name, raised).margin
    assert (before.left != after.left) is margin_file(name).kind.power_driven


@pytest.mark.parametrize("system", get_args(System))
@pytest.mark.parametrize("name", FILES)
def test_both_sides_can_be_shown_in_every_system(name: str, system: System) -> None:
    one = worked(name, subject(name))
    assert one.margin.demand is not None
    shown = value(one.margin.demand.p50, one.kind, Display(system))
    assert shown.split(" ", 1)[1], shown


GAUGE = {"rail-to-manifold differential", "boost against relief", "boost against limit",
         "exhaust back-pressure"}  # fmt: skip


@pytest.mark.parametrize("name", FILES)
def test_what_has_no_true_zero_is_a_distance(name: str) -> None:
    """The rule of the ratio, by the unit; pressures have one unless they are gauge pressures."""
    kind = margin_file(name).kind
    without = kind.unit in ("K", "1", "octane numbers", "year") or name in GAUGE
    assert (kind.rule is not Rule.RATIO) is without


def test_usual_piston_speed_lies_above_the_engines_of_1985() -> None:
    """155 unboosted gasoline cars at peak power (imports-85, computed): 9.2 to 17.6 m/s."""
    table, kind = TABLE["piston_speed"], margin_file("mean piston speed").kind
    assert USUAL_LIMIT.p10 > table["highest"]
    for speed, state in ((table["median"], State.CLEAR), (23.0, State.OVER)):
        assert Margin(kind, Band.exact(speed), USUAL_LIMIT).state is state
    fastest = Margin(kind, Band.exact(table["highest"]), USUAL_LIMIT)
    assert fastest.state is State.CLEAR
    assert fastest.left is not None
    assert fastest.left.p10 < 0.15


def test_a_fault_in_one_file_is_a_fault_of_that_margin_alone(
    monkeypatch: pytest.MonkeyPatch, buildlog: Any
) -> None:
    """A file that cannot be imported, as one whose definition lacks a text."""
    broken = f"{kinds.__name__}.{FILES['clutch torque']}"
    monkeypatch.setitem(sys.modules, broken, ModuleType(broken))
    with pytest.raises(AttributeError):
        margin_file("clutch torque")
    for name in set(FILES) - {"clutch torque"}:
        assert margin_file(name)
    assert buildlog("explain", "gearbox", "torque").out.startswith("gearbox torque: ")
    assert "clutch torque" in buildlog("explain").out


def test_explaining_a_margin_loads_its_file_alone_and_no_numpy() -> None:
    code = (
        "import sys; from buildlog.report.as_text import explain_text;"
        "explain_text.names(); explain_text.explained('clutch torque');"
        "print(*sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT
    )
    loaded = set(done.stdout.split())
    files = {f"{kinds.__name__}.{file}" for file in FILES.values()}
    assert loaded & files == {f"{kinds.__name__}.{FILES['clutch torque']}"}
    assert "numpy" not in loaded
