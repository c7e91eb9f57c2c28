"""`buildlog predict` on the demo: the answer first, its parts, its air, and what is refused."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.conftest import Call


def predicted(buildlog: Call, demo: Path, *arguments: str) -> dict[str, Any]:
    told = buildlog("predict", *arguments, "--json", at=demo)
    assert told.status == 0, told.err
    document: dict[str, Any] = json.loads(told.out)
    assert document["format"] == "buildlog/predict/1"
    return document


def test_the_band_of_stage_2_contains_what_was_measured(demo: Path, buildlog: Call) -> None:
    found = predicted(buildlog, demo, "stage-1", "stage-2")
    assert found["anchored_to"] == "2026-03-14-stage-1"
    band = found["peak_power_ratio"]
    assert 1.28 < band["p10"] < 1.40 < band["p50"] < band["p90"] < 1.62
    assert found["measured_lies"]["where"] == "inside"
    assert found["measured_lies"]["measured"] == pytest.approx(211.0 / 150.9, rel=5e-3)


def test_the_parts_add_up_to_the_mean(demo: Path, buildlog: Call) -> None:
    found = predicted(buildlog, demo, "stage-1", "stage-2")
    total = sum(part["delta"] for part in found["attribution"])
    assert total == pytest.approx(found["peak_power"]["mean"])
    assert total == pytest.approx(found["attribution_sum_w"])
    assert {part["change"] for part in found["attribution"]} >= {"boost", "charge cooling"}


def test_the_curve_is_a_band_on_one_grid(demo: Path, buildlog: Call) -> None:
    curve = predicted(buildlog, demo, "stage-1", "stage-2")["curve"]
    rows = list(zip(curve["p10"], curve["p50"], curve["p90"], strict=True))
    assert len(rows) == len(curve["grid"]) > 50
    assert all(low <= middle <= high for low, middle, high in rows)
    assert max(curve["p50"]) == pytest.approx(217 * 745.7, rel=0.02)


def test_the_first_line_answers_and_the_screen_is_one(demo: Path, buildlog: Call) -> None:
    told = buildlog("predict", "stage-1", "stage-2", at=demo)
    lines = told.out.splitlines()
    assert lines[0].startswith("predicted +")
    assert "8 in 10" in lines[0]
    assert "inside the band" in lines[1]
    assert len(lines) <= 40
    assert max(map(len, lines)) <= 80
    assert lines[-1] == "next: buildlog diff stage-1 stage-2"
    assert "estimates, not approvals" in told.out


def test_full_gives_every_range_and_source(demo: Path, buildlog: Call) -> None:
    told = buildlog("predict", "stage-1", "stage-2", "--full", at=demo)
    assert "spark retard under boost: 2 to 14 deg, most likely 7 deg" in told.out
    assert "common practice, no source" in " ".join(told.out.split())
    assert "Pellowin" not in told.err


def test_the_same_call_gives_the_same_numbers(demo: Path, buildlog: Call) -> None:
    one, other = (predicted(buildlog, demo, "baseline", "stage-2") for _ in range(2))
    assert one == other


def test_a_hot_day_at_altitude(demo: Path, buildlog: Call) -> None:
    found = predicted(
        buildlog, demo, "stage-1", "stage-1", "--altitude", "1600 m", "--air-temperature", "95 degF"
    )
    assert found["air"]["pressure_pa"] == pytest.approx(83.5e3, rel=2e-3)
    assert found["air"]["temperature_k"] == pytest.approx(308.15)
    assert 0.75 < found["peak_power_ratio"]["p50"] < 0.84
    assert found["measured_lies"] is None
    told = buildlog("predict", "stage-1", "stage-1", "--altitude", "1600 m", at=demo)
    assert "5,249 ft of altitude (12.11 psi)" in " ".join(told.out.split())


def test_no_change_is_said_to_be_none(demo: Path, buildlog: Call) -> None:
    told = buildlog("predict", "stage-2", "stage-2-recheck", at=demo)
    assert told.out.startswith("predicted: no change of power")


def test_the_back_test_counts_and_says_how_little_two_results_are(
    demo: Path, buildlog: Call
) -> None:
    told = buildlog("predict", "--back-test", at=demo)
    assert told.out.startswith("1 of 1 measured stage came out inside the band")
    assert "fewer than ten results say little" in told.out
    assert "stage-2 to stage-2-recheck: nothing that has a formula" in " ".join(told.out.split())
    found = json.loads(buildlog("predict", "--back-test", "--json", at=demo).out)
    assert [stage["kind"] for stage in found["stages"]] == ["turbocharger"]


def test_a_shop_teaches_with_its_other_cars_only(
    demo: Path, demo_copy: Path, tmp_path: Path, buildlog: Call
) -> None:
    """The same car copied into the shop's folder must not count twice."""
    told = buildlog("predict", "--back-test", "--shop", str(tmp_path), at=demo)
    assert told.out.startswith("1 of 1")


def test_learning_shows_raw_and_adjusted(demo_copy: Path, buildlog: Call) -> None:
    assert buildlog("set", "induction.boost.target_gauge=10 psi", at=demo_copy).status == 0
    found = predicted(buildlog, demo_copy, "stage-2", "working")
    assert found["learned"]["count"] == 1
    assert found["raw"]["peak_power_ratio"] != found["peak_power_ratio"]
    told = buildlog("predict", "stage-2", at=demo_copy)
    assert "learned from 1 past result with this kind of induction; without them +" in told.out


def test_a_ledgers_priors_are_used(demo_copy: Path, buildlog: Call) -> None:
    (demo_copy / "priors.toml").write_text(
        "[spark_retard_boosted]\nunit = 'deg'\ndistribution = 'triangular'\n"
        "low = 6\nmode = 7\nhigh = 8\nsource = 'three cars of ours'\n"
    )
    before = predicted(buildlog, demo_copy, "stage-1", "stage-2")
    listed = {one["name"]: one for one in before["assumed"]}["spark_retard_boosted"]
    assert listed["source"] == "three cars of ours"
    (demo_copy / "priors.toml").write_text("[spark_retard_boosted]\nunit = 'deg'\n")
    told = buildlog("predict", "stage-1", "stage-2", at=demo_copy)
    assert told.status == 4
    assert "priors.toml, line 1" in told.err
    told = buildlog("diff", "stage-1", "stage-2", at=demo_copy)
    assert told.status == 0
    assert "not predicted: spark_retard_boosted needs a distribution" in told.out


@pytest.mark.parametrize(
    ("arguments", "status", "sentence"),
    [
        ([], 2, "say which version to start from"),
        (["stage-9"], 3, "names no version"),
        (["stage-1", "plan:none"], 3, "no plan"),
        (["stage-1", "stage-2", "--altitude", "1600"], 4, "needs a unit"),
        (["stage-1", "stage-2", "--altitude", "30 km"], 4, "altitude"),
        (["stage-1", "stage-2", "--altitude", "1 km", "--air-pressure", "90 kPa"], 4, "both"),
        (["stage-1", "stage-2", "--shop", "nowhere"], 3, "does not exist"),
        (["--back-test", "--shop", "."], 3, "no ledger lies in"),
    ],
)
def test_bad_input_ends_in_a_sentence(
    arguments: list[str], status: int, sentence: str, demo: Path, buildlog: Call
) -> None:
    told = buildlog("predict", *arguments, at=demo)
    assert told.status == status
    assert sentence in told.err
    assert "Traceback" not in told.err + told.out


def test_an_unmeasured_car_gets_a_labelled_estimate(demo_copy: Path, buildlog: Call) -> None:
    """The first entry alone, without its sessions: only the maker's figures are left."""
    import subprocess

    ids = subprocess.run(
        ["git", "-C", str(demo_copy), "rev-list", "--reverse", "main"],
        capture_output=True, text=True, check=True,
    ).stdout.split()  # fmt: skip
    subprocess.run(["git", "-C", str(demo_copy), "reset", "-q", "--hard", ids[0]], check=True)
    sets = ["induction.kind=turbocharger", "induction.boost.target_gauge=7 psi"]
    assert buildlog("set", *sets, at=demo_copy).status == 0
    told = buildlog("predict", "first", "working", at=demo_copy)
    assert told.out.startswith("ESTIMATED, because no measured curve stands behind it: +")
    assert "NOT measured: a typical curve through the maker's 170 hp" in " ".join(told.out.split())
    assert "power over the rated figure" in " ".join(told.out.split())
    told = buildlog("diff", "first", "working", at=demo_copy)
    assert "not predicted: no dyno session measured as-found" in told.out


def test_diff_says_where_the_measured_value_lies(demo: Path, buildlog: Call) -> None:
    told = buildlog("diff", "stage-1", "stage-2", at=demo)
    assert "predicted from stage-1's measured curve" in told.out
    assert "measured: inside the band" in told.out
    found = json.loads(buildlog("diff", "stage-1", "stage-2", "--json", at=demo).out)
    assert found["predicted"]["peak_power"]["unit"] == "W"
    assert found["predicted_reason"] is None


@pytest.mark.parametrize("ending", ["svg", pytest.param("png", marks=pytest.mark.long)])
@pytest.mark.long
def test_figures_of_predictions_are_the_same_every_time(
    ending: str, demo: Path, tmp_path: Path, buildlog: Call
) -> None:
    calls = [["stage-1", "stage-2", "--predicted"], ["--what", "predicted"]]
    for number, call in enumerate(calls):
        outs = [tmp_path / f"{number}{side}.{ending}" for side in "ab"]
        for out in outs:
            assert buildlog("plot", *call, "--out", str(out), at=demo).status == 0
        assert outs[0].read_bytes() == outs[1].read_bytes()
    assert buildlog("plot", "stage-1", "--predicted", at=demo).status == 2
