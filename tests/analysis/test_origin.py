"""Where each value comes from, and one field's whole life."""

from __future__ import annotations

from buildlog.analysis.car.changes import life, origins
from tests.builders import make_configuration, make_version

HISTORY = [
    make_version(1, make_configuration(), kind="found"),
    make_version(2, make_configuration({"engine.bore": "84.5 mm", "work": []})),
    make_version(3, make_configuration({"engine.bore": "3.3268 in", "work": []})),
    make_version(4, make_configuration({"fuel.ron": 98, "exhaust.pipe_diameter": None})),
]


def test_a_value_comes_from_the_entry_that_last_changed_it() -> None:
    found = {path: version.number for path, version in origins(HISTORY[:3]).items()}
    assert found["engine.stroke"] == 1
    assert found["engine.bore"] == 2  # written anew in inches by entry 3: the same bore
    assert "work[respray].note" not in found


def test_what_came_back_comes_from_the_entry_that_brought_it_back() -> None:
    found = {path: version.number for path, version in origins(HISTORY).items()}
    assert found["work[respray].note"] == 4
    assert found["engine.bore"] == 4
    assert found["fuel.ron"] == 4
    assert "exhaust.pipe_diameter" not in found


def test_every_given_value_has_an_origin() -> None:
    from buildlog.records.paths import leaves

    for length in range(1, len(HISTORY) + 1):
        found = origins(HISTORY[:length])
        assert set(found) == set(leaves(HISTORY[length - 1].configuration))


def test_life_of_a_field() -> None:
    course = [(v.number, value and str(value)) for v, value in life(HISTORY, "engine.bore")]
    assert course == [(1, "84.0 mm"), (2, "84.5 mm"), (4, "84.0 mm")]
    gone = [(v.number, value and str(value)) for v, value in life(HISTORY, "exhaust.pipe_diameter")]
    assert gone == [(1, "57 mm"), (4, None)]
    assert life(HISTORY, "clutch.clamp_force") == []
