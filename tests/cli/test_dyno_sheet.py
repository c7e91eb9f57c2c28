"""`dyno sheet`: on the demo, and on sessions with road speed or stated values only."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.dyno_ledger import dyno_ledger
from tests.conftest import Call
from tests.odd_cars import made

KEYS = {
    "standard", "factor", "within_limits", "dry_pressure_pa", "pulls", "mean",
    "engine_speed_source", "sags", "air_fuel",
}  # fmt: skip


@pytest.mark.parametrize("name", ["baseline", "stage-1", "05-09-stage-2", "recheck"])
def test_a_sheet_fits_eighty_columns_and_one_screen(buildlog: Call, demo: Path, name: str) -> None:
    done = buildlog("dyno", "sheet", name, at=demo)
    assert done.status == 0
    lines = done.out.rstrip("\n").split("\n")
    assert max(map(len, lines)) <= 80
    assert len(lines) <= 50
    assert "hp at" in " ".join(lines[:2])
    assert "± " in lines[0]
    assert lines[-1].startswith("next: buildlog dyno compare ")


def test_the_newest_session_without_a_name_and_the_next_command_runs(
    buildlog: Call, demo: Path
) -> None:
    done = buildlog("dyno", "sheet", at=demo)
    assert done.out.startswith("2026-06-06-stage-2-recheck: ")
    following = done.out.rstrip().split("\n")[-1].removeprefix("next: buildlog ").split()
    assert buildlog(*following, at=demo).status == 0


def test_stage_2_sags_at_4900_with_boost_and_fuel_pressure(buildlog: Call, demo: Path) -> None:
    text = " ".join(buildlog("dyno", "sheet", "05-09", at=demo).out.split())
    assert "sag at 4,900 rpm" in text
    assert "in 3 of 3 pulls; coincides with boost -0.7 psi, fuel pressure -0.7 psi" in text
    assert "relief" not in text  # it is set far above what was reached: no suspect
    assert "caused by" not in text
    body = json.loads(buildlog("dyno", "sheet", "05-09", "--json", at=demo).out)
    (sag,) = body["sags"]
    assert sag["at"] == pytest.approx(4900, abs=100)
    assert sag["depth_w"] > 2000
    assert len(sag["pulls"]) == 3
    assert {c["channel"] for c in sag["coincides_with"]} == {"boost", "fuel_pressure"}


def test_the_recheck_recovers_torque_from_road_speed(buildlog: Call, demo: Path) -> None:
    body = json.loads(buildlog("dyno", "sheet", "recheck", "--json", at=demo).out)
    assert body["engine_speed_source"]["state"] == "recovered"
    assert 0.005 < body["engine_speed_source"]["u"] < 0.03
    torque = [t for t in body["mean"]["torque_nm"] if t is not None]
    assert 270 < max(torque) < 330
    text = buildlog("dyno", "sheet", "recheck", at=demo).out
    assert "engine speed recovered from road speed, gear 4 and tire" in text


def test_json_has_the_keys_that_programs_rely_on(buildlog: Call, demo: Path) -> None:
    body = json.loads(buildlog("dyno", "sheet", "stage-1", "--json", at=demo).out)
    assert next(iter(body)) == "format"
    assert body["format"] == "buildlog/dyno-sheet/1"
    assert set(body) >= KEYS
    assert {"file", "peak_power_w", "at", "used"} <= set(body["pulls"][0])
    mean = body["mean"]
    assert {"axis", "grid", "power_w", "torque_nm", "half_width_95"} <= set(mean)
    assert len(mean["grid"]) == len(mean["power_w"]) == len(mean["half_width_95"])
    assert {"region", "median", "worst", "target", "state"} <= set(body["air_fuel"][0])
    # T26-003 stays in the car and declares 0.87; T26-002's target is not on record there
    assert [r["target"] for r in body["air_fuel"]] == [None, 0.87]


def test_power_follows_the_standard_that_is_asked_for(buildlog: Call, demo: Path) -> None:
    def peak(*more: str) -> float:
        body = json.loads(buildlog("dyno", "sheet", "05-09", "--json", *more, at=demo).out)
        return max(p["peak_power_w"] for p in body["pulls"])

    body = json.loads(buildlog("dyno", "sheet", "05-09", "--json", at=demo).out)
    assert peak() / peak("--standard", "none") == pytest.approx(body["factor"], rel=1e-9)
    assert peak("--standard", "STD") > peak()


@pytest.mark.parametrize(
    ("ending", "head"), [("png", b"\x89PNG"), ("pdf", b"%PDF"), ("svg", b"<?xml")]
)
def test_a_figure_by_its_ending(
    buildlog: Call, demo: Path, tmp_path: Path, ending: str, head: bytes
) -> None:
    out = tmp_path / f"sheet.{ending}"
    assert buildlog("dyno", "sheet", "05-09", "--figure", out, at=demo).status == 0
    assert out.read_bytes().startswith(head)


@pytest.mark.parametrize(
    ("options", "status"),
    [
        (["--what", "air-fuel"], 0),
        (["--what", "boost"], 0),
        (["--against", "odometer"], 0),
        (["--against", "date", "--what", "torque"], 0),
        (["--against", "date", "--what", "boost"], 2),
    ],
)
@pytest.mark.one_in(3)
def test_plots_beside_power(
    buildlog: Call, demo: Path, tmp_path: Path, options: list[str], status: int
) -> None:
    out = tmp_path / "figure.png"
    assert buildlog("plot", "--out", out, *options, at=demo).status == status
    assert out.exists() is (status == 0)


def test_an_unknown_session_is_not_found_and_names_the_known(buildlog: Call, demo: Path) -> None:
    done = buildlog("dyno", "sheet", "stage-7", at=demo)
    assert done.status == 3
    assert "did you mean" in done.err


def test_a_broken_car_toml_on_the_disk_hides_no_recorded_sheet(
    buildlog: Call, demo_copy: Path
) -> None:
    (demo_copy / "car.toml").write_text("[[[", encoding="utf-8")
    for call in (["sheet", "baseline"], ["compare", "baseline", "2026-03-14-stage-1"]):
        assert buildlog("dyno", *call, at=demo_copy).status == 0


ROAD = [
    {"channel": "road_speed", "name": "n", "unit": "km/h"},
    {"channel": "power", "name": "P", "unit": "kW"},
]


@pytest.fixture
def visits(tmp_path: Path) -> Path:
    stated = {
        "quantity": "power", "value": "98 kW", "at": "5600 rpm", "standard": "SAE J1349",
        "measured_at": "wheel", "source": "printout, page 2",
    }  # fmt: skip
    return dyno_ledger(
        tmp_path / "ledger",
        [
            ("base", {"peaks": [99_700, 100_000, 100_300]}),
            ("again", {"peaks": [100_500], "dyno.id": "R1"}),
            ("slow", {"peaks": [90_000], "column": ROAD, "gear": None,
                      "shape": {"rpm": (60, 210), "step": 0.5}}),
            ("paper", {"column": None, "stated": [stated]}),
        ],
    )  # fmt: skip


def test_one_pull_takes_the_scatter_of_the_dynos_last_visits(buildlog: Call, visits: Path) -> None:
    body = json.loads(buildlog("dyno", "sheet", "again", "--json", at=visits).out)
    assert body["scatter"]["pooled_with"] == ["2026-03-01-base"]
    assert (body["scatter"]["basis"], body["scatter"]["dof"]) == ("measured", 2)


def test_road_speed_only_is_a_sheet_without_torque(buildlog: Call, visits: Path) -> None:
    done = buildlog("dyno", "sheet", "slow", at=visits)
    assert done.status == 0
    for system, at in (("us", "130 mph"), ("metric", "210 km/h")):
        shown = buildlog("dyno", "sheet", "slow", "--units", system, at=visits).out
        assert f" at {at} at the wheels" in " ".join(shown.split()[:20])
    assert "torque is unknown" in " ".join(done.out.split())
    body = json.loads(buildlog("dyno", "sheet", "slow", "--json", at=visits).out)
    assert body["axis"] == "road_speed"
    assert body["mean"]["torque_nm"] is None
    assert body["torque_reason"] == "cannot be recovered: session: gear missing"


def test_a_stated_value_is_declared_a_point_without_scatter(buildlog: Call, visits: Path) -> None:
    done = buildlog("dyno", "sheet", "paper", at=visits)
    assert done.status == 0
    assert "1 stated value, declared, no scatter known" in done.out
    told = " ".join(done.out.split())
    assert "stated power 131 hp at 5,600 rpm" in told
    body = json.loads(buildlog("dyno", "sheet", "paper", "--json", at=visits).out)
    assert body["basis"] == "declared"
    assert body["mean"] is None
    assert body["stated"][0]["value_si"] == 98_000


def test_a_figure_of_figures_that_were_only_stated_is_refused(
    tmp_path: Path, buildlog: Call
) -> None:
    """A printout has no curve: to say nothing of the picture that was asked for would be wrong."""
    with made(tmp_path / "car", "only-stated") as ledger:
        folder = ledger.folder
    done = buildlog("dyno", "sheet", "printout", "--figure", "sheet.svg", at=folder)
    assert done.status == 1
    assert "has no curve to draw" in done.err
    assert not (folder / "sheet.svg").exists()
    assert buildlog("dyno", "sheet", "printout", at=folder).status == 0
