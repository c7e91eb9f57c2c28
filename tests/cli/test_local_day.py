"""One local day in every command, whatever the zone: that of the computer, or as stated.

The zones and their hours from UTC are those of the IANA time zone database, which Python's
zoneinfo reads; the entry's trailer keeps the local day, the commit its UTC time.
"""

from __future__ import annotations

import datetime as dt
import os
import pkgutil
import re
import time
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from importlib import import_module
from pathlib import Path
from types import ModuleType, SimpleNamespace
from typing import Any
from zoneinfo import ZoneInfo

import pytest

import buildlog
from tests.attack import acts, taps
from tests.attack.acts import Act
from tests.attack.cuts import EVERY
from tests.attack.prepared_world import prepared
from tests.attack.taps import Tap
from tests.attack.test_every_write import LOOKS, READS
from tests.attack.worlds import call, copied, done
from tests.histories import git, usual

ZONES = [
    "Pacific/Kiritimati", "Pacific/Pago_Pago", "America/Los_Angeles", "UTC", "Asia/Kathmandu",
    "Australia/Adelaide", "America/New_York", "America/St_Johns", "Europe/Berlin", "Asia/Kolkata",
    "Asia/Tokyo", "Pacific/Chatham",
]  # fmt: skip
TIMES = ["00:20", "06:00", "17:40", "23:50"]
SHORT = {("Pacific/Kiritimati", "00:20"), ("America/Los_Angeles", "17:40"),
         ("America/St_Johns", "23:50")}  # fmt: skip
CASES_OF_READERS = [("Pacific/Kiritimati", "00:20"), ("America/Los_Angeles", "23:50"),
                    ("Pacific/Pago_Pago", "17:40"), ("Asia/Kolkata", "06:00")]  # fmt: skip
ALL_CASES = [
    pytest.param(
        (zone, at),
        marks=[] if (zone, at) == ("America/Los_Angeles", "17:40") else [pytest.mark.long],
        id=f"{zone}-{at}",
    )
    for zone in ZONES for at in TIMES
]  # fmt: skip
CASES = [
    pytest.param(zone, at, marks=[] if (zone, at) in SHORT else [pytest.mark.long])
    for zone in ZONES for at in TIMES
]  # fmt: skip


class _Day(type):
    """Every day is one, the patched ones and the others."""

    def __instancecheck__(cls, one: object) -> bool:
        return isinstance(one, cls.__mro__[1])


@contextmanager
def clock_at(zone: str, moment: dt.datetime) -> Iterator[None]:
    """The computer's clock and zone, as every module of the program asks for them."""

    class Clock(dt.datetime, metaclass=_Day):
        def __new__(cls, *args: Any, **named: Any) -> dt.datetime:  # type: ignore[misc]
            return dt.datetime(*args, **named)

        @classmethod
        def now(cls, tz: dt.tzinfo | None = None) -> dt.datetime:  # type: ignore[override]
            return dt.datetime.fromtimestamp(moment.timestamp(), tz)

    class Day(dt.date, metaclass=_Day):
        def __new__(cls, *args: Any, **named: Any) -> dt.date:  # type: ignore[misc]
            return dt.date(*args, **named)

        @classmethod
        def today(cls) -> dt.date:  # type: ignore[override]
            return dt.date.fromtimestamp(moment.timestamp())

    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("TZ", zone)
        time.tzset()
        faked = SimpleNamespace(**{**vars(dt), "datetime": Clock, "date": Day})
        for module in (*_modules(), acts, taps):
            for name, held in list(vars(module).items()):
                if held is dt:
                    patch.setattr(module, name, faked)
        yield
    time.tzset()


@cache
def _modules() -> tuple[ModuleType, ...]:
    """Those that ask for a day or a moment of `datetime`."""
    found = pkgutil.walk_packages(buildlog.__path__, "buildlog.")
    held = [import_module(one.name) for one in found if not one.name.endswith("__main__")]
    asking = re.compile(r"\.(today|now|fromtimestamp)\(")
    return tuple(one for one in held if asking.search(Path(one.__file__ or "").read_text("utf-8")))


def test_no_module_has_a_clock_that_the_tests_cannot_set() -> None:
    """Who takes `date` or `datetime` out of its module asks for no day; nobody asks `time`."""
    for path in sorted(Path(buildlog.__file__).parent.rglob("*.py")):
        text = path.read_text("utf-8")
        assert not re.search(r"(?<!dt\.)\b(date\.today|datetime\.now)\(", text), path
        assert not re.search(r"\b(localtime|ctime|strftime\(\"%Y-%m-%d\"\))", text), path


@pytest.fixture
def clock(request: pytest.FixtureRequest) -> Iterator[dt.datetime]:
    zone, at = request.param
    moment = dt.datetime.fromisoformat(f"2026-03-14T{at}").replace(tzinfo=ZoneInfo(zone))
    with clock_at(zone, moment):
        yield moment


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    with pytest.MonkeyPatch.context() as patch:
        for name in ("BUILDLOG_OUTSIDE", "BUILDLOG_CONFIG", "BUILDLOG_CACHE", "XDG_STATE_HOME"):
            patch.setenv(name, os.environ.get(name, ""))  # what an act sets is taken back
        yield prepared(tmp_path_factory.mktemp("days") / "world")


def told(place: Path) -> dict[str, str]:
    """Names and texts of all files, and what git keeps of each entry; nothing packed."""
    files = [path for path in place.rglob("*") if path.is_file() and "objects" not in path.parts]
    found = {str(path.relative_to(place)): path.read_bytes().decode("utf-8", "replace")
             for path in files if path.suffix != ".zip"}  # fmt: skip
    for folder in {path.parent for path in place.rglob(".git")}:
        for one in git(folder, "log", "--all", "--format=%H%n%B%x00").split("\0"):
            commit, _, text = one.strip().partition("\n")
            found[f"entry {commit}"] = text
    return found


# What writes a second of the world beside the day of the shop, in UTC and saying so.
UTC_MOMENT = re.compile(r"\d{4}-\d\d-\d\d(T| )\d\d:\d\d:\d\d(\.\d+)?(Z|\+00:00| UTC)|DTSTAMP:\w+Z")


def days_of(act: Act | Tap, place: Path) -> str:
    """All that the act said, wrote and named."""
    act.prepare(place)
    before = told(place)
    said = act.run(place)
    assert said.status == 0, (act.name, said)
    after = told(place)
    new = [f"{name}\n{text}" for name, text in after.items() if before.get(name) != text]
    old = {line for text in before.values() for line in text.split("\n")}
    lines = [line for text in new for line in text.split("\n") if line not in old]
    return UTC_MOMENT.sub("", "\n".join([said.out, said.err, *lines]))


@pytest.mark.parametrize("case", ALL_CASES)
@pytest.mark.long
def test_everything_that_writes_has_the_day_of_the_computer(
    world: Path, case: tuple[str, str]
) -> None:
    """No act says, writes or names the day before or after; who dates an entry dates it today."""
    zone, at = case
    today, seen = dt.date.today(), set[str]()
    moment = dt.datetime.fromisoformat(f"{today}T{at}").replace(tzinfo=ZoneInfo(zone))
    others = [(today + dt.timedelta(days=n)).isoformat() for n in (-1, 1)]
    for act in EVERY:
        if act.slow:
            continue
        place = copied(world, "day")
        with clock_at(zone, moment):
            text = days_of(act, place)
        for other in others:
            lines = [line for line in text.split("\n") if other in line]
            assert not lines, (act.name, lines)
        seen |= {act.name} & {act.name if today.isoformat() in text else ""}
    assert len(seen) > 40
    print(f"{zone} {at}: {sum(not act.slow for act in EVERY)} acts, {len(seen)} name their day")


@pytest.mark.parametrize(
    "case",
    [
        CASES_OF_READERS[0],
        *(pytest.param(one, marks=pytest.mark.long) for one in CASES_OF_READERS[1:]),
    ],
)
def test_everything_that_only_looks_has_the_day_of_the_computer(
    world: Path, case: tuple[str, str]
) -> None:
    """What it says does not hang on where in the day, or in the world, one looks."""
    today = dt.date.today()
    noon = dt.datetime.fromisoformat(f"{today}T12:00").replace(tzinfo=ZoneInfo("UTC"))
    zone, at = case
    moment = dt.datetime.fromisoformat(f"{today}T{at}").replace(tzinfo=ZoneInfo(zone))
    for command in sorted(READS - {"completion", "schema", "dyno coast"}):
        folder = "car" if command.startswith("torque") else "tern"
        words = [word.replace("{at}", str(world)) for word in LOOKS.get(command, "").split()]
        said = []
        for zone_, when in (("UTC", noon), (zone, moment)):
            with clock_at(zone_, when):
                said.append(call(world / folder, *command.split(), *words))
        assert said[0] == said[1], (command, said)


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
