"""What every field of car.toml says it moves is what it moves, in a car with every field filled.

A prediction and every margin are worked out before and after a field changes, in each of the
builds in which other formulas look at other fields.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator
from dataclasses import replace
from functools import cache
from types import SimpleNamespace
from typing import Any

import pytest

from buildlog.analysis.car.priors import load, uncertain
from buildlog.analysis.margins.all_margins import margins as all_margins
from buildlog.analysis.margins.figures.demand_figure import Source, exact
from buildlog.analysis.margins.figures.margin_car import KnownGood, PackDraws, Run, Subject
from buildlog.analysis.margins.figures.margin_rows import Row
from buildlog.analysis.prediction.predicted import predicted
from buildlog.analysis.prediction.prediction_anchor import Start, from_sheet
from buildlog.analysis.prediction.prediction_inputs import Inputs, inputs
from buildlog.analysis.workshop.calibration_match import hardware_of
from buildlog.desk.questions.limits import Margining
from buildlog.errors import InvalidInput
from buildlog.physics.engines.ensemble import PredictionBand
from buildlog.physics.numerics.band import Band
from buildlog.records.car.configuration import Configuration
from buildlog.records.fasteners import Joint
from buildlog.records.field_traits import moves
from buildlog.records.fields.traits import MARGIN, NOTHING, PREDICTION, UNMODELLED, Moves
from buildlog.records.paths import assembly, fields, leaves
from tests.analysis.margin_cars import DAY, JOINT
from tests.builders import changed, make_sheet, make_version
from tests.documents import get
from tests.full_car import BUILDS, LIMITS, Document, before, build, other_values

PRIORS = load()
DRAWN = uncertain(PRIORS)
JOINTS = {"flywheel": Joint.model_validate(JOINT)}
RUN = Run(
    Band(140e3, 150e3, 160e3), 560.0, "predicted", Source("a test"), Band.exact(280.0),
    turbine_inlet=exact(1100.0),
    pack=PackDraws(((0.9, 120e3), (0.17, 60e3), (0.1, 50e3)), 0.01, Source("a test")),
)  # fmt: skip
DRAWS = 8  # the least: whether a figure moves, not by how much
PATHS = [path for path in fields(Configuration) if path != "format"]
TABLES = list(dict.fromkeys(assembly(path) for path in PATHS))
SINGLE = [path for path in PATHS if "[]" not in path]

# Stated for some part, and no margin compares it yet; a margin that does takes it off this list.
NOT_COMPARED = {
    *(
        path
        for path in SINGLE
        if path.endswith(".limit.value") and path.removesuffix(".limit.value") not in LIMITS
    ),
}
# No model covers these: nothing is predicted, while the fields' other values move no prediction.
REFUSED = {"car.power_source": "electric", "engine.layout": "rotary"}


def chosen(table: str, trait: Moves) -> list[str]:
    return [path for path in SINGLE if assembly(path) == table and trait in moves(path)]


# The figures


@cache
def started(name: str) -> tuple[Configuration, Start]:
    """The car that a build was made of, and its measured curve."""
    one = before(name)
    sheet = make_sheet([120_000] * 3, configuration=one)
    assert sheet.kept is not None
    return one, from_sheet(sheet, sheet.kept, one, DRAWN)


def state(name: str, document: Document) -> Inputs | None:
    """All that a prediction of this car rests on; None where no model covers it."""
    one, start = started(name)
    try:
        return inputs(one, Configuration.model_validate(document), start, start.day, DRAWN)
    except InvalidInput:
        return None


def prediction(name: str, document: Document) -> tuple[PredictionBand, ...] | None:
    """The predicted peak and mean; None where no model covers this car."""
    one, start = started(name)
    two = make_version(2, Configuration.model_validate(document))
    try:
        found = predicted(make_version(1, one), two, start, PRIORS, draws=DRAWS, groups=())
    except InvalidInput:
        return None
    return found.peak_power, found.mean_power


def measured(car: Configuration) -> list[Row]:
    return all_margins(Subject(car, replace(RUN, basis="measured"), PRIORS, DAY, JOINTS))


def beside_one_that_ran(car: Configuration) -> list[Row]:
    """As predicted, beside a car on the same fuel and calibration that ran with later spark."""
    later = changed(build("turbocharged"), {"calibration.spark_retard": "12 deg"})
    ran = KnownGood("entry 1", Configuration.model_validate(later), RUN)
    return all_margins(Subject(car, RUN, PRIORS, DAY, JOINTS, ran))


def as_rated(car: Configuration) -> list[Row]:
    """As its maker rated it: nobody measured it."""
    version = make_version(1, car)
    book = SimpleNamespace(
        visits=(), history=[version], measured_versions=[], until_now=[version], priors=PRIORS,
        once=lambda _, make: make(), tightened=({}, {}),
    )  # fmt: skip
    return Margining(book).rows(version)  # type: ignore[arg-type]


Basis = Callable[[Configuration], list[Row]]
BASES: tuple[Basis, ...] = (measured, beside_one_that_ran, as_rated)


def margins(basis: Basis, document: Document) -> dict[str, Any]:
    """The figures of every margin by its name."""
    found = basis(Configuration.model_validate(document))
    return {
        row.name: (
            row.margin.demand, row.margin.capacity, row.margin.kind.unit, row.state,
            row.alternative and row.alternative.band,
        )
        for row in found
    }  # fmt: skip


@cache
def of_build(figure: Callable[..., Any], name: str, basis: Basis | None = None) -> Any:
    """A figure of a build as it is."""
    return figure(basis, build(name)) if basis else figure(name, build(name))


# One field


def variants(path: str) -> Iterator[tuple[str, Document]]:
    """Every build that has the field, with it changed: to its first other value, then the next."""
    has = {name: get(build(name), path) for name in BUILDS}
    others = {n: list(other_values(path, now)) for n, now in has.items() if now is not None}
    for turn in range(max(map(len, others.values()), default=0)):
        for name, values in others.items():
            for value in values[turn : turn + 1]:
                yield name, changed(build(name), {path: value})


def moves_prediction(path: str) -> bool:
    return any(
        state(name, document) != of_build(state, name)
        and prediction(name, document) not in (None, of_build(prediction, name))
        for name, document in variants(path)
        if of_build(state, name) is not None
    )


def moves_a_margin(path: str) -> bool:
    return any(
        margins(basis, document) != of_build(margins, name, basis)
        for name, document in variants(path)
        for basis in BASES
    )


# Many fields at once


def all_changed(name: str, paths: Collection[str]) -> Document:
    """A build with every one of the fields changed that it has, to another value in each build."""
    document, turn = build(name), list(BUILDS).index(name)
    given = {path: get(document, path) for path in paths}
    values = {p: list(other_values(p, now)) for p, now in given.items() if now is not None}
    return changed(document, {p: many[turn % len(many)] for p, many in values.items()})


def movers(paths: Collection[str], moved: Callable[[Collection[str]], bool]) -> list[str]:
    """Those of the fields that move a figure: looked for by halves, where all together do."""
    if not moved(paths):
        return []
    if len(paths) == 1:
        return list(paths)
    half = len(paths) // 2
    found = movers(list(paths)[:half], moved) + movers(list(paths)[half:], moved)
    return found or list(paths)


@pytest.mark.parametrize("table", TABLES)
def test_every_field_says_what_it_moves(table: str) -> None:
    """`moves` raises for a field of which nothing is said; a figure follows a field or does not."""
    for path in PATHS:
        if assembly(path) == table:
            assert not {PREDICTION, UNMODELLED} <= set(moves(path)), path


def test_the_builds_fill_every_field() -> None:
    given = {path for name in BUILDS for path in leaves(Configuration.model_validate(build(name)))}
    plain = {re.sub(r"\[.*\]", "[]", path.partition('."')[0]) for path in given}
    assert plain | {"car.vehicle"} == set(PATHS) | {"format"}  # a default says nothing


@pytest.mark.parametrize("table", TABLES)
@pytest.mark.one_in(6)
def test_what_says_prediction_moves_it(table: str) -> None:
    assert [path for path in chosen(table, PREDICTION) if not moves_prediction(path)] == []


@pytest.mark.parametrize("table", TABLES)
@pytest.mark.one_in(6)
def test_what_says_margin_moves_one(table: str) -> None:
    named = [path for path in chosen(table, MARGIN) if path not in NOT_COMPARED]
    assert [path for path in named if not moves_a_margin(path)] == []


@pytest.mark.parametrize("name", BUILDS)
def test_nothing_else_moves_a_prediction(name: str) -> None:
    others = [p for p in SINGLE if PREDICTION not in moves(p) and p not in REFUSED]

    def moved(paths: Collection[str]) -> bool:
        return state(name, all_changed(name, paths)) != of_build(state, name)

    assert movers(others, moved) == []


@pytest.mark.parametrize("basis", BASES)
@pytest.mark.parametrize("name", BUILDS)
def test_nothing_else_moves_a_margin(name: str, basis: Basis) -> None:
    others = [p for p in SINGLE if MARGIN not in moves(p) or p in NOT_COMPARED]

    def moved(paths: Collection[str]) -> bool:
        return margins(basis, all_changed(name, paths)) != of_build(margins, name, basis)

    assert movers(others, moved) == []


def test_lists_of_work_and_offsets_move_nothing() -> None:
    listed = [path for path in PATHS if "[]" in path]
    assert {moves(path) for path in listed} == {NOTHING}
    bare = changed(build("turbocharged"), {"work": None, "odometer_offset": None})
    assert state("turbocharged", bare) == of_build(state, "turbocharged")
    for basis in BASES:
        assert margins(basis, bare) == of_build(margins, "turbocharged", basis)


@pytest.mark.parametrize("path", REFUSED)
def test_what_no_model_covers_is_refused_and_moves_margins(path: str) -> None:
    found = {
        get(document, path): state(name, document)
        for name, document in variants(path)
        if name == "turbocharged"
    }
    assert found[REFUSED[path]] is None
    assert all(one in (None, of_build(state, "turbocharged")) for one in found.values())
    assert moves(path) & MARGIN


def test_a_calibration_belongs_to_what_says_so() -> None:
    """Beside a manual gearbox road speed counts where the calibration cuts at one."""
    car = build("turbocharged")
    for cut, wanted in (
        (None, Moves.CALIBRATION),
        ("230 km/h", Moves.CALIBRATION | Moves.CALIBRATION_BY_ROAD_SPEED),
    ):
        one = Configuration.model_validate(changed(car, {"calibration.speed_limit": cut}))
        named = {path for path in leaves(one) if moves(path) & wanted}
        assert set(hardware_of(make_version(1, one))) == named
