"""`dyno compare` and `dyno relate`: sessions, groups, pulls, machines, declared values."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest

from tests.cli.dyno_ledger import dyno_ledger
from tests.conftest import Call

HIGH: dict[str, Any] = {
    "altitude": "1900 m",
    "air": {"temperature": "25 degC", "pressure": "80.5 kPa", "humidity": "20 percent"},
}
STATED = {"quantity": "power", "value": "98 kW", "measured_at": "wheel", "source": "printout"}


@pytest.fixture(scope="module")
def visits(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three pulls each: 4 % more on R2 than on R1 for the same car, twice; and the rest."""
    three = [99_700, 100_000, 100_300]
    return dyno_ledger(
        tmp_path_factory.mktemp("dyno") / "ledger",
        [
            ("one", {"peaks": three}),
            ("two", {"peaks": [1.04 * p for p in three], "dyno.id": "R2"}),
            ("three", {"peaks": [1.045 * p for p in three], "dyno.id": "R2"}),
            ("groups", {
                "peaks": [99_900, 100_100, 106_900, 107_100],
                "pulls": [{"calibration": "A"}] * 2 + [{"calibration": "B"}] * 2,
            }),
            ("high", HIGH | {"peaks": three, "dyno.id": "R5"}),
            ("higher", HIGH | {"peaks": three, "dyno.id": "R5", "air.pressure": "81.5 kPa"}),
            ("paper", {"column": None, "stated": [STATED | {"standard": "SAE J1349"}]}),
            ("paper-2", {"column": None, "stated": [STATED]}),
        ],
    )  # fmt: skip


def compared(buildlog: Call, at: Path, one: str, other: str, *more: str) -> dict[str, Any]:
    done = buildlog("dyno", "compare", one, other, "--json", *more, at=at)
    assert done.status == 0, done.err
    return dict(json.loads(done.out))


def test_the_block_is_that_of_diff(buildlog: Call, demo: Path) -> None:
    own = compared(buildlog, demo, "2026-02-11-baseline", "2026-03-14-stage-1")
    other = json.loads(buildlog("diff", "baseline", "stage-1", "--json", at=demo).out)["measured"]
    assert {key: value for key, value in own.items() if key != "format"} == other


def test_two_groups_of_one_visit(buildlog: Call, visits: Path) -> None:
    body = compared(buildlog, visits, "groups:A", "groups:B")
    assert body["reasons"] == []
    assert body["power"]["beyond_scatter"] is True
    assert body["pulls"] == [2, 2]


def test_two_pulls_of_one_visit(buildlog: Call, visits: Path) -> None:
    """One per cent apart would be one result; these are 0.3 % apart."""
    body = compared(buildlog, visits, "one/pull-1.csv", "one/pull-2.csv")
    assert body["pulls"] == [1, 1]
    assert body["power"]["beyond_scatter"] is False
    assert body["scatter"]["basis"] == "measured"


def test_text_starts_with_the_answer_and_stays_in_eighty_columns(
    buildlog: Call, visits: Path
) -> None:
    done = buildlog("dyno", "compare", "one", "two", at=visits)
    assert done.out.startswith("measured ")
    lines = done.out.rstrip().split("\n")
    assert max(map(len, lines)) <= 80
    assert lines[-1] == "next: buildlog dyno sheet two"


@pytest.mark.parametrize(
    ("name", "said"),
    [("groups:C", "its groups: A, B"), ("one/pull-9", "its pulls: pull-1.csv"), ("nine", "did")],
)
def test_a_side_that_is_not_there_lists_what_is(
    buildlog: Call, visits: Path, name: str, said: str
) -> None:
    done = buildlog("dyno", "compare", "one", name, at=visits)
    assert done.status == 3
    assert said in done.err


def test_at_one_high_place_observed_power_is_compared_with_the_factor_shown(
    buildlog: Call, visits: Path
) -> None:
    body = compared(buildlog, visits, "high", "2026-03-06-higher")
    assert body["standard"] == "none"
    asked = compared(buildlog, visits, "high", "2026-03-06-higher", "--standard", "SAE")
    assert asked["standard"] == "SAE J1349"
    text = " ".join(buildlog("dyno", "compare", "high", "2026-03-06-higher", at=visits).out.split())
    # dry pressure 80.5 kPa less 20 % of 3.17 kPa (steam tables): (99/79.87 - 0.15)/0.85
    assert "factors 1.28" in text
    assert "are not applied" in text


def test_declared_against_measured_has_no_verdict(buildlog: Call, visits: Path) -> None:
    body = compared(buildlog, visits, "one", "2026-03-07-paper")
    assert body["comparable"] is False
    (power,) = body["stated"]
    assert (power["from"]["basis"], power["to"]["basis"]) == ("measured", "declared")
    assert power["delta_si"] == pytest.approx(98_000 - 100_000, abs=300)
    text = buildlog("dyno", "compare", "one", "2026-03-07-paper", at=visits).out
    assert text.startswith("no verdict")


def test_a_declared_value_of_unknown_standard_is_not_subtracted(
    buildlog: Call, visits: Path
) -> None:
    (power,) = compared(buildlog, visits, "one", "paper-2")["stated"]
    assert power["delta_si"] is None
    assert "the standard of a declared value is not known" in power["reasons"]


def test_two_machines_on_one_car(buildlog: Call, visits: Path) -> None:
    done = buildlog("dyno", "relate", "R1", "R2", "--json", at=visits)
    body = json.loads(done.out)
    assert body["ratio"] == pytest.approx(math.sqrt(1.04 * 1.045), rel=2e-3)
    assert len(body["pairs"]) == 2
    # 1.5 % another day on each of two pairs (common practice) is the floor: 1.96 * 1.5/sqrt(2)
    assert body["half_width_95"] >= 1.95 * 0.015 / math.sqrt(2)
    back = json.loads(buildlog("dyno", "relate", "R2", "R1", "--json", at=visits).out)
    assert back["ratio"] == pytest.approx(1 / body["ratio"], rel=5e-3)
    text = buildlog("dyno", "relate", "R1", "R2", at=visits).out
    assert text.startswith("R2 reads +4.2 ± ")
    assert "No headline number is converted" in " ".join(text.split())


def test_a_comparison_between_related_machines_uses_their_ratio(
    buildlog: Call, visits: Path
) -> None:
    body = compared(buildlog, visits, "one", "two")
    (part,) = body["widened_for"]
    assert "R2 read +4.2" in part["reason"]
    related = json.loads(buildlog("dyno", "relate", "R1", "R2", "--json", at=visits).out)
    assert part["relative"] == pytest.approx(related["u_difference"])
    # the numbers themselves are as they were measured
    assert body["power"]["peak_to"]["value"] == pytest.approx(104_000, rel=3e-3)
    assert body["power"]["beyond_scatter"] is False


def test_machines_that_no_car_state_joins_keep_the_default(buildlog: Call, demo: Path) -> None:
    done = buildlog("dyno", "relate", "R1", "R2", at=demo)
    assert done.status == 3
    assert "no configuration of this car was measured on both R1 and R2" in done.err
    body = compared(buildlog, demo, "05-09-stage-2", "recheck")
    assert {"reason": "another dyno", "relative": 0.05} in body["widened_for"]


def test_an_unknown_machine_and_one_with_itself(buildlog: Call, demo: Path) -> None:
    done = buildlog("dyno", "relate", "R1", "R9", at=demo)
    assert (done.status, "known: R1, R2" in done.err) == (3, True)
    assert buildlog("dyno", "relate", "R1", "R1", at=demo).status == 2
