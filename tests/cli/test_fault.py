"""Faults: two files, because neither is ever changed."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest

from tests.histories import history, put, record

CAR = """\
format = 1

[car]
name = "Marrow Tern 2.6"
"""
BELT = f"""{CAR}
[induction.belt]
ribs = 6
"""


@pytest.fixture
def car(tmp_path: Path) -> Path:
    with history(
        tmp_path / "car",
        [
            put("car.toml", CAR),
            record("intake", kind="found", odometer="88000 mi"),
            put("car.toml", BELT),
            record("belt fitted", odometer="88500 mi"),
        ],
    ) as ledger:
        return ledger.folder


def faults(buildlog) -> list[dict]:
    return json.loads(buildlog("fault", "list", "--json").out)["faults"]


def test_a_fault_is_added_found_and_closed(car: Path, buildlog):
    added = buildlog(
        "fault", "add", "belt squeals", "--part", "induction.belt", "--odometer", "88731 mi",
        "--code", "p0299", "--date", "2026-03-01", "--by", "D-07", at=car,
    )  # fmt: skip
    assert "P0299  fuel and air, injector circuits" in added.out
    (one,) = faults(buildlog)
    assert one["state"] == "open"
    assert one["part_distance_km"] == pytest.approx(231 * 1.609344)
    assert one["codes"] == ["P0299"]
    first = buildlog("fault", "list").out.splitlines()[0]
    assert first.startswith("1 open fault, which holds up full load")
    assert any(
        b["gate"] == "fault-open" for b in json.loads(buildlog("next", "--json").out)["blocked"]
    )
    closed = buildlog("fault", "close", "--remedy", "belt renewed", "--date", "2026-03-02")
    assert (
        closed.out.splitlines()[-1] == 'next: buildlog record -m "fixed: belt squeals" --kind fault'
    )
    (one,) = faults(buildlog)
    assert (one["state"], one["remedy"]) == ("closed", "belt renewed")
    first = tomllib.loads((car / "faults" / "2026-03-01-belt.toml").read_text("utf-8"))
    assert first["state"] == "open"  # never changed


def test_a_recorded_fault_is_closed_with_the_entry_it_resolves(car: Path, buildlog):
    buildlog("fault", "add", "belt squeals", "--date", "2026-03-01", at=car)
    buildlog("record", "-m", "belt squeals", "--kind", "fault", "--date", "2026-03-01")
    assert "--resolves 3" in buildlog("fault", "close", "squeals", "--remedy", "renewed").out


def test_two_faults_on_a_day_have_two_files(car: Path, buildlog):
    for _ in range(2):
        buildlog("fault", "add", "belt squeals", "--date", "2026-03-01", at=car)
    assert len(list((car / "faults").iterdir())) == 2
    outcome = buildlog("fault", "close")
    assert outcome.status == 3
    assert "2026-03-01-belt-squeals-2" in outcome.err


@pytest.mark.parametrize(
    ("arguments", "hint"),
    [
        (["noise", "--part", "induction.bolt"], "induction.belt"),
        (["noise", "--code", "P42"], "P0299"),
        (["noise", "--odometer", "88731"], "mi"),
        (["noi\x1bse"], "invisible character"),
    ],
)
def test_what_does_not_fit_is_refused_and_nothing_is_written(
    car: Path, buildlog, arguments: list[str], hint: str
):
    outcome = buildlog("fault", "add", *arguments, at=car)
    assert outcome.status == 4
    assert hint in outcome.err
    assert not (car / "faults").exists() or not list((car / "faults").iterdir())


def test_without_a_symptom_and_nobody_to_ask(car: Path, buildlog):
    assert buildlog("fault", "add", at=car).status == 2
    assert "no open fault" in buildlog("fault", "list").out


def test_on_the_demo_the_hose_is_closed_with_the_distance_it_had_run(demo: Path, buildlog):
    (one,) = json.loads(buildlog("fault", "list", "--json", at=demo).out)["faults"]
    assert one["state"] == "closed"
    assert one["part_distance_km"] == pytest.approx(431 * 1.609344)
    assert "no open fault; 1 closed" in buildlog("fault", "list").out
