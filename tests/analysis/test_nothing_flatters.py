"""A missing datum never helps, a stated limit is always compared, one shaft has one torque, and a
band that passes its limit is said to: over every field, limit and margin of a whole car."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from buildlog.analysis.car.changes import power_neutral
from buildlog.analysis.margins.all_margins import findings, margins
from buildlog.analysis.margins.figures.margin_rows import Row, State
from buildlog.analysis.prediction.uncovered import beside, not_covered
from buildlog.physics.numerics.band import Band
from buildlog.physics.parts.margin import Margin
from buildlog.records.car.configuration import Configuration
from buildlog.records.field_traits import moves
from buildlog.records.fields.traits import UNMODELLED
from buildlog.records.paths import fields, leaves
from tests.analysis.margin_cars import subject
from tests.builders import changed
from tests.documents import get
from tests.full_car import BUILDS, build, other_values
from tests.physics.made_kinds import kind

SHAFT = ("driveshaft torque", "final drive torque")
RANK = {State.CLEAR: 0, State.CLOSE: 1, State.OVER: 2, State.UNKNOWN: 3}
GRIP = ("chassis.wheelbase", "chassis.centre_of_gravity_height", "chassis.driven_axle_load")


def rows(changes: dict[str, Any]) -> dict[str, Row]:
    return {row.name: row for row in margins(subject(changes))}


@pytest.mark.parametrize("gone", GRIP)
def test_what_grip_hangs_on_never_helps_a_shaft_by_being_missing(gone: str) -> None:
    """Weight transfer and grip: Gillespie, ch. 2 (from memory)."""
    whole, without = rows({}), rows({gone: None})
    for name in (*SHAFT, "driveshaft stress"):
        before, after = whole[name], without[name]
        assert RANK[after.state] >= RANK[before.state], name
        if before.margin.demand and after.margin.demand:
            assert after.margin.demand.p90 >= before.margin.demand.p90 * (1 - 1e-9), name
            if after.margin.demand != before.margin.demand:
                assert "is missing" in str(after.note), name


@pytest.mark.parametrize("changes", [{}, {"chassis.wheelbase": None}, {"chassis.mass": None}])
def test_one_shaft_has_one_torque(changes: dict[str, Any]) -> None:
    found = rows(changes)
    assert found[SHAFT[0]].margin.demand == found[SHAFT[1]].margin.demand


# What a part may bear, show or need, by how its field ends; not what an owner wants (a comparison
# of its own), what a maker measured an output at, or the speed that a calibration holds a car to.
NO_LIMIT = ("intent.", "engine.rated_", "motor.rated_", "calibration.speed_limit")
LIMITS = [
    path
    for path in fields(Configuration)
    if re.search(
        r"(_limit|_limit_gauge|\.limit\.value|\.range_\w+|_strength|\.relief_gauge|\.least_\w+"
        r"|\.rated_(heat|torque|power|power_per_rib)|\.load_index|\.speed_symbol)$",
        path,
    )
    and not path.startswith(NO_LIMIT)
]


@pytest.mark.parametrize("path", LIMITS)
def test_every_stated_limit_is_compared_or_said_not_to_be(path: str) -> None:
    """In every build of a whole car that states it, whatever the engine is."""
    holds = [name for name in BUILDS if get(build(name), path) is not None]
    assert holds
    for name in holds:
        told, sides = _told(name)
        assert path in sides or path in told, name


@cache
def _told(name: str) -> tuple[set[str], set[str]]:
    asked = replace(subject({}), configuration=Configuration.model_validate(build(name)))
    found = margins(asked)
    sides = {
        path
        for row in found
        for side in (row.demand, row.capacity, row.alternative)
        if side is not None
        for path in side.paths
    }
    said = {
        path for f in findings(found, asked) if f.code == "limit-not-compared" for path in f.paths
    }
    return said, sides


UNKNOWN_TO_FORMULAS = [
    path
    for path in fields(Configuration)
    if UNMODELLED in moves(path) and "[]" not in path and not power_neutral(path)
]


@cache
def _bare_build(name: str) -> Configuration:
    return Configuration.model_validate(_bare(build(name)))


@pytest.mark.parametrize("whole", [False, pytest.param(True, marks=pytest.mark.long)])
@pytest.mark.parametrize("path", UNKNOWN_TO_FORMULAS)
def test_every_field_that_no_formula_follows_is_named_where_it_changes(
    path: str, whole: bool
) -> None:
    """Beside the prediction, by itself or by its table, unless an effect of it is declared; in the
    first and the last of the builds that hold it, or in all."""
    named = False
    holding = [name for name in BUILDS if get(build(name), path) is not None]
    for name in holding if whole else dict.fromkeys((holding[0], holding[-1])):
        now = get(build(name), path)
        for value in list(other_values(path, now))[:1]:
            one = _bare_build(name)
            other = Configuration.model_validate(_bare(changed(build(name), {path: value})))
            if leaves(one) == leaves(other):
                continue
            found = (*not_covered(one, other), *beside(one, other))
            assert any(f"{path}.".startswith(f"{owner}.") for owner in found), (name, found)
            named = True
    assert named


def _bare(document: dict[str, Any]) -> dict[str, Any]:
    """Without declared effects: they would stand for the change."""
    if not isinstance(document, dict):
        return document
    return {key: _bare(value) for key, value in document.items() if key != "effect"}


@pytest.mark.parametrize(
    ("left", "state", "past"),
    [
        (Band(0.12, 0.2, 0.3), State.CLEAR, False),
        (Band(0.02, 0.2, 0.3), State.CLOSE, False),
        (Band(-0.03, 0.2, 0.3), State.CLOSE, True),
        (Band(-0.3, -0.1, 0.3), State.OVER, False),
    ],
)
def test_a_state_follows_one_rule_and_a_band_past_its_limit_is_said(
    left: Band, state: State, past: bool
) -> None:
    demand = Band(1 - left.p90, 1 - left.p50, 1 - left.p10)
    margin = Margin(kind("any", caution=0.10), demand, Band.exact(1.0))
    assert margin.state is state
    assert margin.reaches_past is past
