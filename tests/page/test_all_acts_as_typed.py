"""The acts of the day, the dyno, the plans and the whole folder: the page leaves what is typed.

With `test_same_as_typed.py` each act of the page is compared with its command, file by file and
byte by byte; where there is no command for it, with what a hand would write into the file.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from buildlog.page.acts import ACTS
from buildlog.page.server.serving import ServeSaid
from buildlog.store.ledger.reader import Reader
from tests import logger_files
from tests.attack.worlds import done
from tests.page.served import Client, Served, served
from tests.page.test_same_as_typed import BY, act, files

SAME_AS_TYPED = {"item", "fault", "fix", "work", "set", "part", "photo", "record", "approve",
                 "sheet-add", "joint"}  # fmt: skip
HERE = {"odometer", "waiting", "due", "undo", "discard", "dyno-add", "log-add", "dyno-map",
        "pull-unused", "plan-accept", "quote", "new-car"}  # fmt: skip
WRITES_NOTHING = {"customer", "link"}  # a file to send, and its address
LOGGER = logger_files.Logger(10)


def test_each_act_is_compared_with_what_is_typed() -> None:
    assert {*SAME_AS_TYPED, *HERE, *WRITES_NOTHING} == ACTS.keys()


@pytest.fixture
def typed(here: Served, tmp_path: Path) -> Path:
    """A copy of the same car, for the commands."""
    for arguments in (("due", "add", "gearbox oil", "--every", "5000 mi"), ("plan", "new", "boost"),
                      ("plan", "set", "boost", "induction.boost.target_gauge=11 psi",
                       "price=700", "currency=USD")):  # fmt: skip
        done(here.folder, *arguments)
    return Path(shutil.copytree(here.folder, tmp_path / "typed"))


def upload(one: Client, kind: str, given: dict[str, bytes], **fields: str) -> None:
    told = one.upload(kind, [("files", name, data) for name, data in given.items()], **fields)
    assert told.json["word"] == "done", (kind, told.text)


def test_notes_of_the_day(here: Served, typed: Path) -> None:
    one = here.paired("write", BY)
    act(one, "odometer", value="90120", unit="mi", source="photo")
    done(typed, "due", "reading", "90120 mi", "--source", "photo", "--by", BY)
    act(one, "due", what="gearbox oil", value="90130", unit="mi", note="5W-40")
    done(typed, "due", "done", "gearbox oil", "--odometer", "90130 mi", "--note", "5W-40",
         "--by", BY)  # fmt: skip
    waits = {"waits": "outside-work", "for": "head skimmed", "since": "2026-03-14"}
    act(one, "waiting", **waits, expected="2099-12-04", note="asked twice")
    done(typed, "waiting", "add", "head skimmed", "--for", "outside work", "--since", "2026-03-14",
         "--expected", "2099-12-04", "--note", "asked twice", "--by", BY)  # fmt: skip
    act(one, "waiting", done="head-skimmed", note="flat")
    done(typed, "waiting", "done", "head-skimmed", "--note", "flat", "--by", BY)
    assert files(here.folder) == files(typed)
    assert one.act("fault", "a" * 32, symptom="belt squeals").json["word"] == "done"
    act(one, "undo", what="a" * 32)
    assert files(here.folder) == files(typed)


def test_files_of_the_dyno(here: Served, typed: Path, tmp_path: Path) -> None:
    one = here.paired("write", BY)
    pulls = {f"run-{n}.csv": logger_files.pull(n, time=True, rpm=True) for n in (1, 2)}
    wide = {"wide.csv": LOGGER.file(0.4, "time [s],speed [km/h],lambda")}
    for name, data in (pulls | wide).items():
        (tmp_path / name).write_bytes(data)
    said = {"date": "2026-06-09", "gear": "4", "standard": "none", "dyno": "R2",
            "dyno_kind": "inertia", "temperature": "22 degC", "pressure": "990 hPa",
            "humidity": "45 percent", "place": "Estovale hall", "note": "a fan more"}  # fmt: skip
    upload(one, "dyno-add", pulls, session="again", odometer="89700", unit="mi", **said)
    done(typed, "dyno", "add", *(str(tmp_path / name) for name in pulls), "--session", "again",
         "--date", "2026-06-09", "--gear", "4", "--standard-applied", "none", "--dyno", "R2",
         "--dyno-kind", "inertia", "--air-temperature", "22 degC", "--air-pressure", "990 hPa",
         "--humidity", "45 percent", "--place", "Estovale hall", "--note", "a fan more",
         "--odometer", "89700 mi")  # fmt: skip
    assert files(here.folder) == files(typed)
    upload(one, "log-add", wide, what="2026-06-09-again", pull="run-1.csv", shift="0.4 s")
    done(typed, "dyno", "log", str(tmp_path / "wide.csv"), "--session", "2026-06-09-again",
         "--pull", "run-1.csv", "--shift", "0.4 s")  # fmt: skip
    assert files(here.folder) == files(typed)

    path = Path("dyno/2026-06-09-again/session.toml")
    before = (here.folder / path).read_text()
    act(one, "pull-unused", what="2026-06-09-again/run-2.csv", why="wheel slipped")
    said = 'use = false\nreason = "wheel slipped"\n'
    unused = before.replace('file = "run-2.csv"\n', f'file = "run-2.csv"\n{said}')
    assert (here.folder / path).read_text() == unused
    act(one, "pull-unused", what="2026-06-09-again/run-2.csv")
    assert (here.folder / path).read_text() == before
    told = one.act("dyno-map", what="2026-06-09-again", **{"unit:3": "hp"})
    assert told.json["word"] == "done", told.text
    assert (here.folder / path).read_text() == before.replace('unit = "kW"', 'unit = "hp"')
    assert before.count('unit = "kW"') == 1


def test_plans_that_are_accepted(here: Served, typed: Path) -> None:
    one = here.paired("owner", BY)
    assert one.post(one.at("act/quote"), act="b" * 32, what="boost").status == 200
    done(typed, "plan", "quote", "boost")
    act(one, "plan-accept", what="boost", how="by phone")
    done(typed, "plan", "accept", "boost", "--how", "by phone", "--by", BY)
    with Reader(here.folder) as one_, Reader(typed) as other:
        mine, theirs = (car.read(car.resolve("plan:boost"), "plan.toml") for car in (one_, other))
    assert mine == theirs
    assert b'how = "by phone"' in mine
    assert b"[promised]" in mine
    assert files(here.folder) == files(typed)


def test_what_is_taken_out_of_the_folder(here: Served, typed: Path) -> None:
    one = here.paired("write", BY)
    for folder in (here.folder, typed):
        done(folder, "fault", "add", "belt squeals")
    path = next(path for path in files(typed) if "belt-squeals" in path)
    act(one, "discard", take=path)
    done(typed, "discard", path)
    assert files(here.folder) == files(typed)
    assert path not in files(typed)


def test_a_new_car_is_begun_as_the_command_begins_it(demo: Path, tmp_path: Path) -> None:
    shop = tmp_path / "cars"
    shutil.copytree(demo, shop / "tern")
    with served(shop, ServeSaid(port=0)) as found:
        told = found.owner().post("/act/new-car", act="c" * 32, name="Marrow Wren", year="1994")
        assert told.status == 303, told.text
    done(shop / "tern", "new", str(tmp_path / "marrow-wren"), "--name", "Marrow Wren",
         "--year", "1994")  # fmt: skip
    assert files(shop / "marrow-wren") == files(tmp_path / "marrow-wren")
