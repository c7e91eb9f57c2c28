"""`buildlog plan` as the shop's owner goes through it: propose, price, compare, adopt, drop."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path
from typing import Any

import pytest

from tests.conftest import Call

BOOST = "induction.boost.target_gauge"


def git(folder: Path, *arguments: str) -> str:
    done = subprocess.run(
        ["git", "-C", str(folder), *arguments], capture_output=True, text=True, check=True
    )
    return done.stdout


def ok(buildlog: Call, folder: Path, *arguments: str) -> str:
    told = buildlog(*arguments, at=folder)
    assert told.status == 0, told.err
    return told.out


@pytest.fixture
def planned(demo_copy: Path, buildlog: Call) -> Path:
    """Two plans on the demo: more boost, and a camshaft with a declared effect."""
    ok(buildlog, demo_copy, "plan", "new", "boost")
    ok(buildlog, demo_copy, "plan", "set", "boost", f"{BOOST}=10 psi", "price=300.00",
       "currency=EUR", "note=spring and calibration")  # fmt: skip
    ok(buildlog, demo_copy, "plan", "new", "cam", "--from", "stage-2-recheck")
    ok(buildlog, demo_copy, "plan", "set", "cam", "engine.camshaft.kind=270 deg",
       "engine.camshaft.effect.breathing_low=2 percent",
       "engine.camshaft.effect.breathing_high=8 percent",
       "engine.camshaft.effect.source=grinder's sheet", "price=1800", "currency=EUR",
       "exhaust.catalysts.kind=none")  # fmt: skip
    return demo_copy


def compared(buildlog: Call, folder: Path) -> dict[str, Any]:
    found = json.loads(ok(buildlog, folder, "plan", "compare", "--json"))
    assert found["format"] == "buildlog/plan-compare/1"
    return {one["name"]: one for one in found["plans"]}


def test_plans_stand_side_by_side(planned: Path, buildlog: Call) -> None:
    told = ok(buildlog, planned, "plan", "compare", "boost", "cam")
    assert told.startswith("least price for the gain: boost (")
    assert "EUR per hp" in told.splitlines()[0] + told.splitlines()[1]
    assert max(map(len, told.splitlines())) <= 80
    found = compared(buildlog, planned)
    for one in found.values():
        delta = one["predicted"]["peak_power"]
        assert 0 < delta["p10"] < delta["p50"] < delta["p90"]
        assert one["price_per_w"]["least"] == pytest.approx(float(one["price"]) / delta["p90"])
        assert one["price_per_w"]["most"] == pytest.approx(float(one["price"]) / delta["p10"])
        assert one["predicted_from"]["stage"] == "stage-2-recheck"


def test_a_plan_says_what_else_must_change_and_what_it_breaks(
    planned: Path, buildlog: Call
) -> None:
    found = compared(buildlog, planned)
    assert found["boost"]["must_change"][0] == (f"calibration T26-004 must be redone for {BOOST}")
    assert any("emission equipment" in text for text in found["cam"]["breaks"])
    assert any("sound level" in text for text in found["cam"]["unknown"])
    ok(buildlog, planned, "plan", "set", "boost", f"{BOOST}=12 psi", "calibration.id=T26-005")
    needs = compared(buildlog, planned)["boost"]["must_change"]
    assert "boost against relief would be past its limit" in needs
    assert "boost against limit would be past its limit" in needs
    told = " ".join(ok(buildlog, planned, "plan", "compare", "boost").split())
    assert "boost against relief: 12.0 psi against 10.5 psi, over by 1.5 psi (1.5 psi left" in told
    assert not any("must be redone" in text for text in needs)


def test_small_injectors_and_a_weak_clutch_must_change_too(planned: Path, buildlog: Call) -> None:
    """Duty by hand: at 220 hp of crank power and 22 % efficiency, six of 150 cc/min starve."""
    fine = compared(buildlog, planned)["boost"]["must_change"]
    assert not any(text.startswith(("injector", "clutch")) for text in fine)
    ok(buildlog, planned, "plan", "set", "boost", "fuel.injectors.flow=150 cc/min",
       "clutch.rated_torque=250 N*m")  # fmt: skip
    needs = compared(buildlog, planned)["boost"]["must_change"]
    assert "injector duty would be past its limit" in needs
    assert "clutch torque would be past its limit" in needs
    told = ok(buildlog, planned, "plan", "show", "boost")
    line = next(x for x in told.splitlines() if x.startswith("clutch torque"))
    assert line.endswith("over")
    assert "7 % close" in line
    told = " ".join(told.split())
    assert "must change too: clutch torque: " in told
    assert "lb·ft against 184 lb·ft, over by " in told
    assert "(7 % left before)" in told


def test_margins_are_those_of_the_power_that_the_plan_shows(
    demo_copy: Path, buildlog: Call
) -> None:
    """Made from the baseline, it is a set of changes to the car as it stands now."""
    ok(buildlog, demo_copy, "plan", "new", "pipe", "--from", "baseline")
    ok(buildlog, demo_copy, "plan", "set", "pipe", "exhaust.pipe_diameter=80 mm",
       "gearbox.rated_torque=400 N*m")  # fmt: skip
    found = compared(buildlog, demo_copy)["pipe"]
    crank = found["predicted"]["peak_crank_power_w"]["p50"]
    torque = next(one for one in found["margins"] if one["name"] == "gearbox torque")["after"]
    assert found["made_from"]["stage"] == "stage-2-recheck"  # where the set brought it
    assert "curve of stage-2-recheck" in torque["source"]
    assert torque["demand"]["p50"] * 4100 * 3.14159 / 30 < crank < torque["demand"]["p50"] * 628


def test_a_lost_rating_is_unknown_never_fine(planned: Path, buildlog: Call) -> None:
    ok(buildlog, planned, "plan", "set", "boost", "clutch.rated_torque=", "clutch.clamp_force=")
    found = compared(buildlog, planned)["boost"]
    assert any("clutch torque" in text for text in found["unknown"])
    assert not any("clutch torque" in text for text in found["must_change"])


def test_e85_outgrows_the_injectors_though_the_old_range_still_stands(
    demo_copy: Path, buildlog: Call
) -> None:
    """E85 needs about 1.4 times the fuel (14.1 over 9.8 by mass, 3.6 of the physics page)."""
    ok(buildlog, demo_copy, "plan", "new", "e85")
    ok(buildlog, demo_copy, "plan", "set", "e85", "fuel.kind=ethanol-blend",
       "fuel.ethanol_content=85 percent")  # fmt: skip
    found = compared(buildlog, demo_copy)["e85"]
    assert "injector duty would be past its limit" in found["must_change"]
    assert any("fuel.ethanol_range to be set" in text for text in found["must_change"])
    duty = next(one for one in found["margins"] if one["name"] == "injector duty")
    asked = [duty[side]["demand"]["p50"] for side in ("before", "after")]
    assert asked[1] / asked[0] == pytest.approx(1.43, abs=0.08)
    told = " ".join(ok(buildlog, demo_copy, "plan", "show", "e85").split())
    assert "only the heat of the fuel per kg of air" in told
    assert "fuel.evaporation.cooling_low" in told
    assert "must change too: calibration T26-004 must be redone" in told


def test_each_limit_of_the_owner_gets_its_word(planned: Path, buildlog: Call) -> None:
    ok(buildlog, planned, "plan", "set", "boost", "intent.wheel_power_limit=209 hp",
       "intent.boost_limit_gauge=9.5 psi")  # fmt: skip
    found = compared(buildlog, planned)
    said = {o["limit"]: o["verdict"] for o in found["boost"]["owner_limits"]}
    assert said["boost 9.5 psi"] == "broken"
    assert said["wheel power 209 hp"] in ("broken", "may break")
    assert said["sound level 96 dB(A)"] == "kept"
    assert said["emission equipment stays"] == "kept"
    assert said["fuel the owner can buy"] == "kept"
    other = {o["limit"]: o["verdict"] for o in found["cam"]["owner_limits"]}
    assert other["sound level 96 dB(A)"] == "unknown"
    assert other["emission equipment stays"] == "broken"
    told = ok(buildlog, planned, "plan", "compare")
    rows = {x[:24].strip(): x[24:].split() for x in told.splitlines()}
    assert rows["emission equipment stays"] == ["kept", "broken"]
    assert rows["boost 9.5 psi"] == ["broken", "-"]
    assert max(map(len, told.splitlines())) <= 80


def test_many_plans_stay_within_the_screen(demo_copy: Path, buildlog: Call) -> None:
    for number in range(6):
        name = f"a-plan-with-a-long-name-{number}"
        ok(buildlog, demo_copy, "plan", "new", name)
        ok(buildlog, demo_copy, "plan", "set", name, f"{BOOST}={10 + number} psi")
    told = ok(buildlog, demo_copy, "plan", "compare")
    tables = [x for x in told.splitlines() if x.startswith("left of the limit")]
    assert len(tables) >= 2
    heads = [name for line in tables for name in line.split() if name.startswith("a-plan")]
    assert len(set(heads)) == 6
    assert max(map(len, told.splitlines())) <= 80


def test_a_plan_touches_neither_main_nor_the_working_files(planned: Path, buildlog: Call) -> None:
    assert git(planned, "status", "--porcelain") == ""
    assert git(planned, "fsck", "--strict").strip() == ""
    assert "plan.toml" not in git(planned, "ls-tree", "-r", "--name-only", "main")
    names = git(planned, "diff", "--name-only", "main", "plan/boost").split()
    assert names == ["car.toml", "plan.toml"]


def test_adopt_takes_the_fields_and_leaves_the_price(planned: Path, buildlog: Call) -> None:
    before = (planned / "car.toml").read_text()
    told = ok(buildlog, planned, "plan", "adopt", "boost")
    assert f"{BOOST}: 10 psi" in told
    after = (planned / "car.toml").read_text()
    assert after == before.replace('target_gauge = "9.0 psi"', 'target_gauge = "10 psi"', 1)
    assert not (planned / "plan.toml").exists()
    assert "nothing to take over" in ok(buildlog, planned, "plan", "adopt", "boost")
    assert 'price = "300.00"' in git(planned, "show", "plan/boost:plan.toml")


def test_adopt_keeps_what_working_changed_meanwhile(planned: Path, buildlog: Call) -> None:
    ok(buildlog, planned, "set", "clutch.rated_torque=400 N*m")
    ok(buildlog, planned, "plan", "adopt", "cam")
    text = (planned / "car.toml").read_text()
    assert 'rated_torque = "400 N*m"' in text
    assert 'kind = "270 deg"' in text


def test_adopt_refuses_a_conflict_and_lists_it(planned: Path, buildlog: Call) -> None:
    ok(buildlog, planned, "set", f"{BOOST}=8 psi")
    before = (planned / "car.toml").read_bytes()
    told = buildlog("plan", "adopt", "boost", at=planned)
    assert told.status == 2
    assert all(word in told.err for word in (BOOST, "9.0 psi", "8 psi", "10 psi", "--take"))
    assert (planned / "car.toml").read_bytes() == before
    ok(buildlog, planned, "plan", "adopt", "boost", "--take", "working")
    assert (planned / "car.toml").read_bytes() == before
    ok(buildlog, planned, "plan", "adopt", "boost", "--take", "plan")
    assert 'target_gauge = "10 psi"' in (planned / "car.toml").read_text()


def test_adopt_asks_at_a_terminal(
    planned: Path, buildlog: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    ok(buildlog, planned, "set", f"{BOOST}=8 psi")
    monkeypatch.setattr("buildlog.cli.common.at_terminal", lambda: True)
    asked: list[str] = []

    def answer(text: str, **_: Any) -> str:
        asked.append(text)
        return "plan"

    monkeypatch.setattr("click.prompt", answer)
    ok(buildlog, planned, "plan", "adopt", "boost")
    assert asked == ["  working has 8 psi, the plan 10 psi; take"]
    assert 'target_gauge = "10 psi"' in (planned / "car.toml").read_text()


def test_the_same_boost_in_another_unit_is_no_conflict(planned: Path, buildlog: Call) -> None:
    ok(buildlog, planned, "set", f"{BOOST}=68.9 kPa")
    assert "nothing to take over" in ok(buildlog, planned, "plan", "adopt", "boost")


def test_a_plan_made_from_working_holds_what_is_not_recorded(
    demo_copy: Path, buildlog: Call
) -> None:
    ok(buildlog, demo_copy, "set", f"{BOOST}=8 psi")
    ok(buildlog, demo_copy, "plan", "new", "half", "--from", "working")
    shown = json.loads(ok(buildlog, demo_copy, "plan", "show", "half", "--json"))
    assert [change["path"] for change in shown["changes"]] == [BOOST]


def test_a_removed_work_item_and_a_new_one(demo_copy: Path, buildlog: Call) -> None:
    text = (demo_copy / "car.toml").read_text()
    (demo_copy / "car.toml").write_text(text + '\n[[work]]\nitem = "respray"\nnote = "roof"\n')
    ok(buildlog, demo_copy, "plan", "new", "paint", "--from", "working")
    (demo_copy / "car.toml").write_text(text)
    assert "work[respray].note: roof" in ok(buildlog, demo_copy, "plan", "adopt", "paint")
    adopted = (demo_copy / "car.toml").read_text()
    assert adopted.count('[[work]]\nitem = "respray"\nnote = "roof"\n') == 1
    assert adopted.count("[[work]]") == text.count("[[work]]") + 1


def test_drop_takes_the_plan_away(planned: Path, buildlog: Call) -> None:
    tip = git(planned, "rev-parse", "main")
    ok(buildlog, planned, "plan", "drop", "cam")
    assert git(planned, "rev-parse", "main") == tip
    told = buildlog("plan", "show", "cam", at=planned)
    assert told.status == 3
    assert "known: boost" in told.err


def test_predict_and_diff_take_a_plan(planned: Path, buildlog: Call) -> None:
    told = ok(buildlog, planned, "predict", "stage-2", "plan:boost")
    assert told.startswith("predicted +")
    assert "next: buildlog plan compare boost" in told
    assert BOOST.split(".")[-1].replace("_", " ") in ok(
        buildlog, planned, "diff", "stage-2", "plan:boost"
    )


def test_a_plan_without_a_model_says_why(planned: Path, buildlog: Call) -> None:
    ok(buildlog, planned, "plan", "set", "cam", "nitrous.kind=wet")
    told = ok(buildlog, planned, "plan", "compare")
    assert "not predicted: no model covers nitrous" in " ".join(told.split())
    alone = ok(buildlog, planned, "plan", "compare", "cam")
    assert " ".join(alone.split()).startswith("no plan can be predicted: no model covers nitrous")
    assert alone.splitlines()[-1] == "next: buildlog plan show cam"


def test_a_plan_past_a_limit_is_looked_at_before_it_is_adopted(
    planned: Path, buildlog: Call
) -> None:
    told = ok(buildlog, planned, "plan", "compare", "cam")
    assert told.splitlines()[-1] == "next: buildlog plan adopt cam"
    ok(buildlog, planned, "plan", "set", "boost", f"{BOOST}=14 psi")
    told = ok(buildlog, planned, "plan", "compare", "boost")
    assert told.splitlines()[-1] == "next: buildlog margins plan:boost"
    assert "octane more than what ran before must change" in " ".join(told.split())
    told = ok(buildlog, planned, "plan", "compare", "boost", "cam")
    assert told.splitlines()[-1] == "next: buildlog plan adopt cam"


def test_one_limit_gets_tighter(demo_copy: Path, buildlog: Call) -> None:
    ok(buildlog, demo_copy, "plan", "new", "clutch")
    ok(buildlog, demo_copy, "plan", "set", "clutch", "clutch.rated_torque=380 N*m")
    told = " ".join(ok(buildlog, demo_copy, "plan", "compare", "clutch").split())
    assert "; 1 limit gets tighter" in told


def test_a_price_with_a_comma_is_answered_with_a_point(planned: Path, buildlog: Call) -> None:
    told = buildlog("plan", "set", "boost", "price=4800,50", at=planned)
    assert told.status == 4
    assert "price=4800.50" in told.err
    assert "pattern" not in told.err
    told = buildlog("plan", "set", "boost", "price=4,800.50", at=planned)
    assert "price=5200.00" in told.err
    assert "pattern" not in told.err


@pytest.mark.parametrize(
    ("arguments", "status", "sentence"),
    [
        (["new", "latest"], 4, "already means something else"),
        (["new", "a b"], 4, "letters, digits"),
        (["new", "boost"], 4, "already"),
        (["new", "x", "--from", "stage-9"], 3, "names no version"),
        (["set", "boost", "price=cheap"], 4, "price"),
        (["set", "boost", "currency=euro"], 4, "currency"),
        (["set", "boost", "price=1", "induction.boost.target=3 psi"], 4, "not a field"),
        (["set", "boost", f"{BOOST}=ten"], 4, "not a number and a unit"),
        (["set", "boost", BOOST], 2, "PATH=VALUE"),
        (["show", "bost"], 3, "known: boost, cam"),
        (["drop", "none"], 3, "no plan"),
    ],
)
@pytest.mark.one_in(3)
def test_bad_input_ends_in_a_sentence_and_changes_nothing(
    arguments: list[str], status: int, sentence: str, planned: Path, buildlog: Call
) -> None:
    before = git(planned, "for-each-ref")
    told = buildlog("plan", *arguments, at=planned)
    assert told.status == status
    assert sentence in told.err
    assert git(planned, "for-each-ref") == before


def test_an_empty_ledger_has_no_plans(demo_copy: Path, buildlog: Call) -> None:
    ok(buildlog, demo_copy, "plan", "drop", "turbo-kit")
    assert ok(buildlog, demo_copy, "plan", "list").startswith("no plans yet")
    assert ok(buildlog, demo_copy, "plan", "compare").startswith("no plans wait to be built")
