"""Changes made and changes found, between any two versions and in either direction."""

from __future__ import annotations

from buildlog.analysis.answers.comparison import collected, mechanical
from buildlog.analysis.car.version import Version, distance_run
from buildlog.findings import Finding
from tests.builders import make_configuration, make_version

MILE = 1609.344
CAR = make_configuration()
FOUND = make_configuration({"final_drive.ratio": 4.1})
BUILT = make_configuration({"final_drive.ratio": 4.1, "engine.bore": "84.5 mm"})
HISTORY = [
    make_version(1, CAR, kind="found"),
    make_version(2, FOUND, kind="found"),
    make_version(3, BUILT, kind="build"),
]
WORKING = make_version(0, make_configuration({"engine.bore": "85 mm"}), date=None)


def named(before: Version, after: Version) -> dict[str, bool]:
    return {change.path: change.made for change in mechanical(HISTORY, before, after)}


def test_found_apart_from_made() -> None:
    want = {"engine.bore": True, "final_drive.ratio": False}
    assert named(HISTORY[0], HISTORY[2]) == want
    assert named(HISTORY[2], HISTORY[0]) == want


def test_what_lies_outside_the_two_does_not_count() -> None:
    assert named(HISTORY[0], HISTORY[1]) == {"final_drive.ratio": False}
    assert named(HISTORY[1], HISTORY[2]) == {"engine.bore": True}


def test_working_is_made_in_both_directions() -> None:
    want = {"engine.bore": True, "final_drive.ratio": True}
    assert named(HISTORY[2], WORKING) == want
    assert named(WORKING, HISTORY[2]) == want


def test_a_found_change_that_was_then_built_over_is_made() -> None:
    rebuilt = make_configuration({"final_drive.ratio": 3.9})
    history = [*HISTORY[:2], make_version(3, rebuilt)]
    (change,) = mechanical(history, history[0], history[2])
    assert (change.path, change.made) == ("final_drive.ratio", True)


def test_a_version_against_itself() -> None:
    assert mechanical(HISTORY, HISTORY[1], HISTORY[1]) == []


def test_findings_come_once_and_worst_first() -> None:
    note, caution = Finding("a", "note", "n"), Finding("b", "caution", "c")
    error = Finding("c", "error", "e")
    assert collected([note, caution, note, error]) == (error, caution, note)


def test_distance_goes_on_where_an_instrument_was_replaced() -> None:
    offset = {"key": "2026", "distance": "90000 mi", "reason": "new instrument"}
    replaced = make_configuration({"odometer_offset": [offset]})
    history = [
        make_version(1, CAR, odometer=88_000 * MILE),
        make_version(2, CAR, odometer=None),
        make_version(3, replaced, odometer=10 * MILE),
        make_version(4, replaced, odometer=500 * MILE),
    ]
    run = [None if metres is None else round(metres / MILE) for metres in distance_run(history)]
    assert run == [88_000, None, 90_010, 90_500]


def test_an_offset_may_name_an_earlier_entry_and_the_newest_distance_holds() -> None:
    def car(miles: int) -> object:
        offset = {"key": "o", "distance": f"{miles} mi", "reason": "r", "from_entry": f"{2:040x}"}
        return make_configuration({"odometer_offset": [offset]})

    history = [
        make_version(1, CAR, odometer=100 * MILE),
        make_version(2, CAR, odometer=5 * MILE),
        make_version(3, car(90), odometer=10 * MILE),  # type: ignore[arg-type]
        make_version(4, car(100), odometer=20 * MILE),  # type: ignore[arg-type]
    ]
    run = [round((metres or 0) / MILE) for metres in distance_run(history)]
    assert run == [100, 105, 110, 120]
