"""Which session measured a version: the newest of an equal configuration, else the nearest."""

from __future__ import annotations

import datetime as dt
from typing import Any

from buildlog.analysis.car.history_files import Match, Visit, match
from buildlog.analysis.car.version import Version
from tests.builders import make_configuration, make_session, make_version

CAR = make_configuration()
STROKED = make_configuration({"engine.stroke": "80 mm"})


def visit(owner: Version, day: int, calibrations: tuple[str | None, ...] = (None,)) -> Visit:
    peaks = [100_000.0] * len(calibrations)
    pulls: list[dict[str, Any]] = [{"calibration": c} if c else {} for c in calibrations]
    session, _ = make_session(peaks, {"date": dt.date(2026, 3, day)}, pulls)
    return Visit(f"2026-03-{day:02}", session, owner)


def found(target: Version, visits: list[Visit]) -> Match:
    result = match(target, visits)
    assert result is not None
    return result


def test_the_session_of_the_version_itself() -> None:
    one, two = make_version(1, CAR), make_version(2, STROKED)
    visits = [visit(one, 1), visit(two, 2)]
    assert found(one, visits) == Match(visits[0], None, True)
    assert found(two, visits) == Match(visits[1], None, True)


def test_a_version_keeps_its_own_session_whatever_newer_one_measured_the_same_car() -> None:
    one, two, plain = make_version(1, CAR), make_version(5, CAR), make_version(6, CAR)
    visits = [visit(two, 9), visit(one, 1)]
    assert found(one, visits).visit.name == "2026-03-01"
    assert found(two, visits).visit.name == "2026-03-09"
    assert found(plain, visits).visit.name == "2026-03-09"
    thirty = [make_version(number, CAR) for number in range(1, 29)]
    visits = [visit(version, version.number) for version in thirty]
    assert [found(v, visits).visit for v in thirty] == visits


def test_equal_means_physically_equal() -> None:
    inches = make_version(3, make_configuration({"engine.bore": "3.307 in"}))
    assert found(inches, [visit(make_version(1, CAR), 1)]).exact


def test_with_neutral_changes_between_the_nearest_earlier_one_and_it_is_said() -> None:
    painted = make_configuration({"car.colour": "slate green", "clutch.rated_torque": "300 N*m"})
    visits = [visit(make_version(1, CAR), 1)]
    result = found(make_version(4, painted), visits)
    assert not result.exact
    assert result.note == (
        "measured at entry 1; since then only car.colour, clutch.rated_torque changed"
    )


def test_a_later_session_does_not_stand_for_an_earlier_unlike_version() -> None:
    painted = make_version(4, make_configuration({"car.colour": "slate green"}))
    assert match(make_version(1, CAR), [visit(painted, 8)]) is None


def test_none_when_something_that_moves_power_changed() -> None:
    assert match(make_version(3, STROKED), [visit(make_version(1, CAR), 1)]) is None
    assert match(make_version(3, STROKED), []) is None


def test_two_calibrations_on_one_day_belong_to_their_own_versions() -> None:
    first = make_configuration({"calibration.id": "T26-002"})
    second = make_configuration({"calibration.id": "T26-003", "calibration.lambda_full_load": 0.86})
    before, after = make_version(3, first), make_version(4, second)
    visits = [visit(after, 14, ("T26-002", "T26-002", "T26-003"))]
    assert found(after, visits).calibration == "T26-003"
    # The earlier calibration was measured on the later visit, hardware being the same.
    assert found(before, visits).calibration == "T26-002"


def test_working_may_be_matched_by_any_session() -> None:
    working = make_version(0, make_configuration({"car.colour": "red"}), date=None)
    assert found(working, [visit(make_version(7, CAR), 3)]).visit.owner.number == 7


def test_unused_pulls_name_no_calibration() -> None:
    session, _ = make_session(
        [1e5, 1e5], pulls=[{"calibration": "A", "use": False}, {"calibration": "B"}]
    )
    assert Visit("x", session, make_version(1)).calibrations == ("B",)
