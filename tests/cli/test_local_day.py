"""One local day in every command, whatever the zone: that of the computer, or as stated.

The zones and their hours from UTC are those of the IANA time zone database, which Python's
zoneinfo reads; the entry's trailer keeps the local day, the commit its UTC time.
"""

from __future__ import annotations

import datetime as dt
import time
import tomllib
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from zoneinfo import ZoneInfo

import pytest

from tests.attack.worlds import call, done
from tests.histories import git, usual

ZONES = [
    "Pacific/Kiritimati", "Pacific/Pago_Pago", "America/Los_Angeles", "UTC", "Asia/Kathmandu",
    "Australia/Adelaide", "America/New_York", "America/St_Johns", "Europe/Berlin", "Asia/Kolkata",
    "Asia/Tokyo", "Pacific/Chatham",
]  # fmt: skip
TIMES = ["00:20", "06:00", "17:40", "23:50"]
SHORT = {("Pacific/Kiritimati", "00:20"), ("America/Los_Angeles", "17:40"),
         ("America/St_Johns", "23:50")}  # fmt: skip
CASES = [
    pytest.param(zone, at, marks=[] if (zone, at) in SHORT else [pytest.mark.long])
    for zone in ZONES for at in TIMES
]  # fmt: skip


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest) -> Iterator[dt.datetime]:
    """The computer's clock and zone, as each command asks for them."""
    zone, at = request.param
    moment = dt.datetime.fromisoformat(f"2026-03-14T{at}").replace(tzinfo=ZoneInfo(zone))

    class Clock(dt.datetime):
        @classmethod
        def now(cls, tz: dt.tzinfo | None = None) -> dt.datetime:  # type: ignore[override]
            return dt.datetime.fromtimestamp(moment.timestamp(), tz)

    class Day(dt.date):
        @classmethod
        def today(cls) -> dt.date:  # type: ignore[override]
            return dt.date.fromtimestamp(moment.timestamp())

    with monkeypatch.context() as patch:
        patch.setenv("TZ", zone)
        time.tzset()
        faked = SimpleNamespace(**{**vars(dt), "datetime": Clock, "date": Day})
        patch.setattr("buildlog.desk.snapshot.settings.dt", faked)
        patch.setattr("buildlog.desk.snapshot.snapshot.dt", faked)
        yield moment
    time.tzset()


ROWS = [f"{n},{n / 50:.2f}" for n in range(2500, 6500, 100)]
PULL = "\n".join(["n [1/min],P [kW]", *ROWS, ""])

# What writes a day: the command without its --date, and where the day ends up.
WRITERS = {
    "checklist": (["checklist", "start", "intake"], "checks"),
    "torque": (["torque", "add", "flange", "--count", "4", "--torque", "22 N*m"], "torque"),
    "fault": (["fault", "add", "belt squeals"], "faults"),
    "dyno": (["dyno", "add", "pull.csv", "--session", "new", "--gear", "4"], "dyno"),
}


def a_car(folder: Path) -> Path:
    usual(folder).close()
    return folder


def written(car: Path, folder: str) -> list[dt.date]:
    files = [
        path for path in (car / folder).rglob("*.toml") if "2026-01-07" not in path.parent.name
    ]
    return [tomllib.loads(path.read_text("utf-8"))["date"] for path in files]


@pytest.mark.parametrize(("clock"), [pytest.param(c.values, marks=c.marks) for c in CASES],
                         indirect=True, ids=lambda one: "-".join(one))  # fmt: skip
def test_every_command_has_the_day_of_the_computer(tmp_path: Path, clock: dt.datetime) -> None:
    today, car = clock.date(), a_car(tmp_path / "car")
    (car / "pull.csv").write_text(PULL)
    for name, (words, folder) in WRITERS.items():
        ahead = today + dt.timedelta(days=1)
        refused = call(car, *words, "--date", ahead.isoformat())
        assert refused.status == 4, (name, refused)
        assert f"the date {ahead} lies ahead: today is {today}" in refused.err, name
        assert written(car, folder) == []
        done(car, *words)
        assert written(car, folder) == [today], name
    refused = call(car, "record", "-m", "x", "--odometer", "unknown", "--date", ahead.isoformat())
    assert f"the date {ahead} lies ahead: today is {today}" in refused.err
    done(car, "record", "-m", "a day", "--odometer", "unknown")
    assert f"Work-date: {today}\n" in git(car, "log", "-1", "--format=%B")
    assert git(car, "log", "-1", "--format=%at %ai").split()[::3] == [
        str(int(clock.timestamp())), "+0000",
    ]  # fmt: skip
    done(car, "set", "engine.stroke=80 mm")
    done(car, "record", "-m", "bare", "--odometer", "unknown")
    assert f"Work-date: {today}\n" in git(car, "log", "-1", "--format=%B")
    done(car, "handover", "--no-pdf", str(tmp_path / "out"), "--to", "R. Holloway")
    assert written(car, "handover") == [today]


@pytest.mark.parametrize("clock", [("UTC", "17:40")], indirect=True)
def test_a_day_ahead_in_a_file_is_refused_by_check_and_record(
    tmp_path: Path, clock: dt.datetime
) -> None:
    car = a_car(tmp_path / "car")
    (car / "faults").mkdir()
    (car / "faults/late.toml").write_text(
        'format = 1\ndate = 2026-03-15\nstate = "open"\nsymptom = "squeals"\n'
    )
    for words in (["check"], ["record", "-m", "x", "--odometer", "unknown"]):
        said = call(car, *words)
        assert said.status in (1, 4)
        assert "faults/late.toml" in said.out + said.err
        assert "the date 2026-03-15 lies ahead" in " ".join((said.out + said.err).split())


def test_a_clock_years_ahead_is_asked_about_and_has_a_way_back(tmp_path: Path) -> None:
    """The ledger's newest entry is of January 2026; the computer says what it says today."""
    from buildlog.desk.acts import outlook

    with pytest.MonkeyPatch.context() as patch:
        car = a_car(tmp_path / "car")
        patch.setattr(outlook, "_LEAP", dt.timedelta(days=100))
        done(car, "set", "engine.stroke=80 mm")
        said = call(car, "record", "-m", "x", "--odometer", "unknown")
        today = dt.date.today()
        assert said.status == 4
        assert f"the clock of this computer says {today}" in said.err
        assert f"--date {today}" in said.err
        done(car, "record", "-m", "x", "--odometer", "unknown", "--date", today.isoformat())
        done(car, "set", "engine.stroke=81 mm")
        back = ["record", "-m", "y", "--odometer", "unknown", "--date", "2026-03-01"]
        assert "--odometer-note" in call(car, *back).err
        done(car, *back, "--odometer-note", "the clock was ahead")
