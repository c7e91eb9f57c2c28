"""Sessions against their own names and against each other."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import pytest

from buildlog.analysis.car.gearing import gearing
from buildlog.analysis.car.history_files import Visit
from buildlog.analysis.workshop.session_doubts import days_in, sessions
from tests.analysis.test_sheet_report import plain_power, rows_of, worked
from tests.builders import make_configuration, make_session, make_version

DAY = dt.date(2026, 3, 14)


def visit(name: str, file: str = "pull-1.csv", **changes: Any) -> Visit:
    put = {path.replace("__", "."): value for path, value in changes.items()}
    session, _ = make_session((100_000,), put, [{"file": file}])
    return Visit(name, session, make_version(1, make_configuration()))


def codes(*visits: Visit) -> list[str]:
    return [finding.code for finding in sessions(visits)]


@pytest.mark.parametrize(
    "file",
    ["run_20260314.csv", "14.03.2026 run 2.csv", "3-14-2026.csv", "2026_03_14_1.csv", "run-7.csv",
     "dyno 20991231.csv", "SN20010203-1.csv", "1234567890.csv"],
)  # fmt: skip
def test_a_name_that_says_the_day_or_none_is_in_order(file: str) -> None:
    assert codes(visit("2026-03-14-stage-1", file)) == []


@pytest.mark.parametrize("file", ["run_20260313.csv", "13.03.2026.csv", "2025-03-14 a.csv"])
def test_a_file_named_for_another_day_is_asked_about(file: str) -> None:
    (found,) = sessions([visit("2026-03-14-stage-1", file)])
    assert found.code == "name-date"
    assert file in found.text
    assert "the session 2026-03-14" in found.text


def test_the_sessions_own_name_counts_too() -> None:
    assert codes(visit("2026-03-04-stage-1")) == ["name-date"]


def test_a_day_and_a_month_that_may_change_places_are_two_days() -> None:
    assert days_in("04-05-2026") == [dt.date(2026, 4, 5), dt.date(2026, 5, 4)]
    assert days_in("31-12-2026") == [dt.date(2026, 12, 31)]


def test_one_place_has_one_height() -> None:
    low, high = visit("a", altitude="120 m"), visit("b", altitude="160 m")
    assert codes(low, visit("b", altitude="130 m")) == []
    assert codes(low, visit("b", altitude="160 m", place="Estovale")) == []
    (found,) = sessions([low, high])
    assert (found.code, found.where) == ("place-height", "dyno/b/session.toml")


def test_weather_moves_the_barometer_so_far_and_no_further_in_a_day() -> None:
    """24 hPa in a day is what meteorology calls explosive: Sanders and Gyakum, 1980 (memory)."""
    first = visit("a", air__pressure="990 hPa")
    next_day = {"date": DAY + dt.timedelta(days=1)}
    assert codes(first, visit("b", air__pressure="1012 hPa", **next_day)) == []
    assert codes(first, visit("b", air__pressure="1016 hPa", **next_day)) == ["place-weather"]
    later = {"date": DAY + dt.timedelta(days=9)}
    assert codes(first, visit("b", air__pressure="1020 hPa", **later)) == []


GEARS = {
    "gearbox.kind": "manual",
    "gearbox.ratios": [3.5, 2.1, 1.4, 1.0, 0.8],
    "final_drive.ratio": 3.7,
    "tyres.rolling_circumference": "1900 mm",
}


@pytest.mark.parametrize(
    ("driven", "kind", "said"),
    [(4, "manual", None), (3, "manual", "and gear 3"), (5, "manual", "and gear 5"),
     (3, "automatic", None)],
)  # fmt: skip
def test_logged_speeds_are_held_to_the_stated_gear(
    driven: int, kind: str, said: str | None
) -> None:
    """A converter may slip, so that only a locked drive is asked."""
    car = GEARS | {"gearbox.kind": kind}
    turns = gearing(make_configuration(car), driven).turns_per_metre
    assert turns is not None

    def channels(n: np.ndarray, rng: np.random.Generator) -> dict[str, np.ndarray]:
        slip = 1 + 0.02 * (n - 2000) / 4300
        return {"P": plain_power(n, rng), "v": n / 60 / turns / slip * 3.6}

    session, files = rows_of(2, channels, [("road_speed", "v", "km/h")])
    found = [f for f in worked(session, files, car).findings if f.code == "gear-ratio"]
    assert len(found) == (2 if said else 0)
    assert all(said in f.text for f in found if said)
