"""What changed: every field that differs physically, and nothing else."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from buildlog.analysis.car.changes import changes, physically_equal, power_neutral
from buildlog.records.car.configuration import Configuration
from tests.builders import make_configuration
from tests.documents import documents, get, leaves_of, put, values

CAR = leaves_of("car")
OPPOSITE = {"added": "removed", "removed": "added", "changed": "changed"}


def read(document: dict[str, Any]) -> Configuration:
    return Configuration.model_validate(document)


def given_paths(document: dict[str, Any]) -> list[str]:
    return [path for path in CAR if path != "format" and get(document, path) is not None]


@settings(max_examples=60)
@given(documents())
def test_nothing_differs_from_itself(document: dict[str, Any]) -> None:
    assert changes(read(document), read(document)) == []


@settings(max_examples=100)
@given(documents(), st.data())
def test_exactly_the_changed_leaves_are_named(
    document: dict[str, Any], data: st.DataObject
) -> None:
    chosen = data.draw(st.lists(st.sampled_from(given_paths(document)), unique=True, max_size=8))
    other = document
    for path in chosen:
        value = data.draw(values(CAR[path]))
        assume(value != get(document, path))
        other = put(other, path, value)
    assert {change.path for change in changes(read(document), read(other))} == set(chosen)


@settings(max_examples=60)
@given(documents(), documents())
def test_the_other_way_round_is_the_mirror(one: dict[str, Any], other: dict[str, Any]) -> None:
    forth = {c.path: c for c in changes(read(one), read(other))}
    back = {c.path: c for c in changes(read(other), read(one))}
    assert forth.keys() == back.keys()
    for path, change in forth.items():
        assert back[path].kind == OPPOSITE[change.kind]
        assert (back[path].old, back[path].new) == (change.new, change.old)


def test_one_bore_in_two_units_is_no_change() -> None:
    old = make_configuration({"engine.bore": "3.551 in"})
    assert changes(old, make_configuration({"engine.bore": "90.2 mm"})) == []
    assert physically_equal(old, make_configuration({"engine.bore": "90.2 mm"}))


def test_a_bore_that_was_made_larger_is_one() -> None:
    old = make_configuration({"engine.bore": "90.2 mm"})
    new = make_configuration({"engine.bore": "90.5 mm"})
    (change,) = changes(old, new)
    assert (change.path, change.kind, change.assembly) == ("engine.bore", "changed", "engine")
    assert (str(change.old), str(change.new)) == ("90.2 mm", "90.5 mm")
    assert not physically_equal(old, new)


def test_array_items_are_matched_by_name_not_by_place() -> None:
    one = {"item": "respray", "note": "front wings"}
    two = {"item": "seats", "note": "leather"}
    old = make_configuration({"work": [one, two]})
    assert changes(old, make_configuration({"work": [two, one]})) == []
    new = make_configuration({"work": [two, one | {"note": "all of it"}]})
    assert [change.path for change in changes(old, new)] == ["work[respray].note"]


def test_a_list_of_numbers_is_one_value() -> None:
    new = make_configuration({"gearbox.ratios": [3.3, 2.0, 1.4, 1.0, 0.8]})
    assert [c.path for c in changes(make_configuration(), new)] == ["gearbox.ratios"]


def test_a_default_written_out_is_no_change() -> None:
    assert changes(make_configuration(), make_configuration({"car.vehicle": "car"})) == []


def test_changes_stand_in_the_order_of_the_file() -> None:
    new = make_configuration(
        {"tyres.pressure": "2.4 bar", "engine.bore": "84.5 mm", "fuel.ron": 98, "car.year": 1995}
    )
    assert [c.assembly for c in changes(make_configuration(), new)] == [
        "car", "engine", "fuel", "tyres",
    ]  # fmt: skip


@pytest.mark.parametrize(
    "path",
    [
        "car.colour",
        "work[respray].note",
        "engine.part.number",
        "engine.rated_power",
        "clutch.rated_torque",
        "clutch.break_in.distance",
        'calibration.written_for."engine.bore"',
        "tyres.speed_symbol",
        "fuel.injectors.source",
    ],
)
def test_what_cannot_move_the_measured_power(path: str) -> None:
    assert power_neutral(path)


@pytest.mark.parametrize(
    "path",
    [
        "engine.bore",
        "induction.boost.target_gauge",
        "fuel.injectors.flow",
        "calibration.id",
        "calibration.file_sha256",
        "exhaust.pipe_diameter",
        "final_drive.ratio",
        "tyres.size",
        "flywheel.inertia",
    ],
)
def test_what_can_move_it(path: str) -> None:
    assert not power_neutral(path)
