"""`predict --shop`: what other cars of the shop teach, said with its number, never from itself."""

from __future__ import annotations

import json
import shutil
from math import exp, log
from pathlib import Path
from typing import Any

import pytest

from tests.conftest import Call
from tests.histories import loosen
from tests.shop_of_ledgers import TURBO, car

GAINS = {1: 1.36, 2: 1.30, 3: 1.33, 4: 1.45}


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("shop")
    for number, gain in GAINS.items():
        car(folder / f"car-{number}", number, gain)
    return folder


@pytest.fixture
def shop(made: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(made, tmp_path / "shop"))


def asked(buildlog: Call, at: Path, *arguments: str) -> dict[str, Any]:
    told = buildlog("predict", *arguments, "--json", at=at)
    assert told.status == 0, told.err
    document: dict[str, Any] = json.loads(told.out)
    return document


def words(buildlog: Call, at: Path, *arguments: str) -> str:
    told = buildlog("predict", *arguments, at=at)
    assert told.status == 0, told.err
    return " ".join(told.out.split())


def break_history(ledger: Path) -> None:
    """Spoil every object that git keeps: what a dying disk leaves."""
    loosen(ledger)
    for file in (ledger / ".git" / "objects").glob("??/*"):
        file.chmod(0o644)
        file.write_bytes(b"\0" * 40)


def test_the_number_of_results_is_named_and_both_bands_are_shown(
    shop: Path, buildlog: Call
) -> None:
    at, call = shop / "car-4", ("baseline", "turbo", "--shop", str(shop))
    found = asked(buildlog, at, *call)
    assert (found["learned"]["count"], found["learned"]["cars"]) == (3, 3)
    raw, adjusted = found["raw"]["peak_power_ratio"], found["peak_power_ratio"]
    assert adjusted["p50"] < raw["p50"]  # the three others fell short of their bands
    assert adjusted["p90"] / adjusted["p10"] <= raw["p90"] / raw["p10"] * (1 + 1e-9)
    told = words(buildlog, at, *call)
    assert "learned from 3 past results with this kind of induction, 3 cars; without them +" in told
    alone = asked(buildlog, at, "baseline", "turbo")
    assert alone["learned"] is None
    assert alone["peak_power_ratio"] == raw


def test_the_shift_is_the_shrunken_mean_of_the_residuals(shop: Path, buildlog: Call) -> None:
    """By hand from the back-test's own figures: a normal prior of 6 % and three results."""
    found = asked(buildlog, shop / "car-4", "baseline", "turbo", "--shop", str(shop))
    stages = asked(buildlog, shop / "car-4", "--back-test", "--shop", str(shop))["stages"]
    top, below = 0.0, 0.06**-2
    for one in stages:
        if one["car"] == "Marrow Tern 4":
            continue
        band = log(one["p90"] / one["p10"]) / 2.5631
        weight = 1 / (band**2 + one["measured_sd"] ** 2)
        top += weight * (band / 0.06) * log(one["measured"] / one["p50"])
        below += weight * (band / 0.06) ** 2
    assert found["learned"]["shift"] == pytest.approx(top / below, rel=1e-3)
    raw, adjusted = found["raw"]["peak_power_ratio"], found["peak_power_ratio"]
    carried = log(raw["p90"] / raw["p10"]) / 2.5631 / 0.06
    assert adjusted["p50"] == pytest.approx(raw["p50"] * exp(carried * top / below), rel=1e-3)


def test_a_stage_never_learns_from_itself(shop: Path, buildlog: Call) -> None:
    """Of the two ledgers in the folder only the other counts, by entry, working files or plan."""
    for gone in ("car-2", "car-3"):
        shutil.rmtree(shop / gone)
    at, options = shop / "car-4", ("--shop", str(shop))
    assert buildlog("plan", "new", "same", at=at).status == 0
    for target in ("turbo", "working", "plan:same"):
        found = asked(buildlog, at, "baseline", target, *options)
        assert found["learned"]["count"] == 1, target
        assert asked(buildlog, at, "baseline", target)["learned"] is None, target
    back = asked(buildlog, at, "--back-test", *options)
    (kind,) = back["kinds"]
    assert (kind["raw"]["count"], len(back["stages"])) == (2, 2)


def test_the_first_stage_of_a_back_test_has_learned_nothing(shop: Path, buildlog: Call) -> None:
    """Leave-later-out: with one result, after learning is raw."""
    found = asked(buildlog, shop / "car-1", "--back-test")
    (kind,) = found["kinds"]
    assert kind["adjusted"] == pytest.approx(kind["raw"])


def test_a_later_car_does_not_teach_an_earlier_prediction(shop: Path, buildlog: Call) -> None:
    """car-1 was measured before all the others were."""
    found = asked(buildlog, shop / "car-1", "baseline", "turbo", "--shop", str(shop))
    assert found["learned"] is None
    assert buildlog("set", "induction.boost.target_gauge=11 psi", at=shop / "car-1").status == 0
    found = asked(buildlog, shop / "car-1", "turbo", "working", "--shop", str(shop))
    assert found["learned"]["count"] == 4


@pytest.mark.parametrize("copied", ["car-4", "car-2"])
def test_a_copy_of_a_ledger_counts_once(copied: str, shop: Path, buildlog: Call) -> None:
    shutil.copytree(shop / copied, shop / "backup-on-the-stick")
    found = asked(buildlog, shop / "car-4", "baseline", "turbo", "--shop", str(shop))
    assert found["learned"]["count"] == 3
    assert len(asked(buildlog, shop / "car-4", "--back-test", "--shop", str(shop))["stages"]) == 4


def test_a_damaged_ledger_is_named_and_skipped(shop: Path, buildlog: Call) -> None:
    break_history(shop / "car-2")
    at, call = shop / "car-4", ("baseline", "turbo", "--shop", str(shop))
    found = asked(buildlog, at, *call)
    assert found["learned"]["count"] == 2
    assert len(found["not_learned_from"]) == 1
    assert found["not_learned_from"][0].startswith("car-2: ")
    assert "nothing learned from car-2: " in words(buildlog, at, *call)
    assert "car-2: " in words(buildlog, at, "--back-test", "--shop", str(shop))
    assert buildlog("plan", "new", "more", at=at).status == 0
    assert buildlog("plan", "set", "more", "induction.boost.target_gauge=10 psi", at=at).status == 0
    told = buildlog("plan", "compare", "--shop", str(shop), at=at)
    assert "nothing learned from car-2: " in told.out
    assert (
        "learned from 3 past results with this kind of induction, 3 cars; without them +"
        in " ".join(told.out.split())
    )


def test_a_broken_car_file_in_the_shop_is_named_not_fatal(shop: Path, buildlog: Call) -> None:
    """The working file is not what was measured, but a file nobody can read must not stop it."""
    (shop / "car-3" / "car.toml").write_text("format = \n")
    found = asked(buildlog, shop / "car-4", "baseline", "turbo", "--shop", str(shop))
    said = {name.partition(":")[0] for name in found["not_learned_from"]}
    assert found["learned"]["count"] + len(said) == 3


def test_another_induction_kind_teaches_nothing(shop: Path, buildlog: Call) -> None:
    """Results of turbochargers say nothing of a blower."""
    text = (shop / "car-4" / "car.toml").read_text()
    assert TURBO.splitlines()[2] in text
    at = shop / "car-4"
    assert buildlog("set", "induction.kind=positive-displacement", at=at).status == 0
    found = asked(buildlog, at, "baseline", "working", "--shop", str(shop))
    assert found["learned"] is None
    assert "no earlier stage with this kind of induction" in words(
        buildlog, at, "baseline", "working"
    )


def test_diff_has_the_band_that_predict_has(shop: Path, buildlog: Call) -> None:
    found = json.loads(buildlog("diff", "baseline", "turbo", "--json", at=shop / "car-4").out)
    block = found["predicted"]
    assert block["learned"] is None
    assert block["raw"]["peak_power_ratio"] == block["peak_power_ratio"]
    assert block["measured_lies"]["measured"] == pytest.approx(1.45, abs=0.01)
    same = asked(buildlog, shop / "car-4", "baseline", "turbo")
    assert {name: same[name] for name in block} == block


def test_diff_margins_and_plan_show_what_was_learned(shop: Path, buildlog: Call) -> None:
    """The sum of the parts is the raw mean's, and the JSON says so."""
    at = shop / "car-4"
    more = "induction.boost.target_gauge=11 psi"
    assert buildlog("plan", "new", "more", at=at).status == 0
    assert buildlog("plan", "set", "more", more, at=at).status == 0
    same = asked(buildlog, at, "turbo", "plan:more")
    assert same["learned"]["count"] == 1
    diff = json.loads(buildlog("diff", "turbo", "plan:more", "--json", at=at).out)["predicted"]
    plan = json.loads(buildlog("plan", "compare", "more", "--json", at=at).out)["plans"][0]
    assert {name: same[name] for name in diff} == diff == plan["predicted"]
    assert same["attribution_of"] == "raw.peak_power"
    total = sum(one["delta"] for one in same["attribution"])
    assert total == pytest.approx(same["raw"]["peak_power"]["mean"])
    told = " ".join(buildlog("diff", "turbo", "plan:more", at=at).out.split())
    assert " without past results)" in told
    assert "learned from 1 past result" in told
    rows = json.loads(buildlog("margins", "plan:more", "--json", at=at).out)["margins"]
    with_plan = {one["name"]: one["after"] for one in plan["margins"]}
    assert any(one["demand"] and one["demand"]["p50"] for one in rows)
    for one in rows:
        assert with_plan[one["name"]]["demand"] == one["demand"]


def test_a_band_by_another_folder_says_that_it_stands_alone(
    shop: Path, buildlog: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One configuration has one band; where one answer has its own, it says so."""
    at, call = shop / "car-4", ("baseline", "turbo", "--shop", str(shop))
    alone = "for this answer alone; diff, margins and quotes learn from this ledger alone"
    assert alone in words(buildlog, at, *call)
    settings = tmp_path / "settings.toml"
    monkeypatch.setenv("BUILDLOG_CONFIG", str(settings))
    settings.write_text(f'cars = "{shop}"\n')
    found = asked(buildlog, at, *call)
    assert not any("for this answer alone" in one for one in found["notes"])
    told = json.loads(buildlog("diff", "baseline", "turbo", "--json", at=at).out)
    assert told["predicted"]["peak_power_ratio"] == found["peak_power_ratio"]
    settings.write_text(f'cars = "{tmp_path}"\n')
    assert f"learn from those in {tmp_path}" in words(buildlog, at, *call)
