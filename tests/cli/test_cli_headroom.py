"""`buildlog headroom` on the demo."""

from __future__ import annotations

import json
from pathlib import Path

from tests.conftest import Call
from tests.histories import CAR, history, put, record


def test_the_first_limit_then_the_next_two(demo: Path, buildlog: Call) -> None:
    lines = buildlog("headroom", "latest", "--ledger", demo).out.splitlines()
    assert lines[0].startswith("first limit: boost against relief, at ")
    assert all(len(line) <= 80 for line in lines)
    text = "\n".join(lines)
    assert text.count("    limit of ") == 3
    assert "without boost against relief as a limit" in text
    assert lines[-1].startswith("unknown is not clear. next: buildlog set ")


def test_json_has_bands_of_power_and_boost(demo: Path, buildlog: Call) -> None:
    body = json.loads(buildlog("headroom", "latest", "--json", "--ledger", demo).out)
    assert body["format"] == "buildlog/headroom/1"
    limits = body["limits"]
    assert len(limits) > 3
    middles = [one["wheel_power_w"]["p50"] for one in limits]
    assert middles == sorted(middles)
    for one in limits:
        assert one["wheel_power_w"].keys() == one["boost_gauge_pa"].keys() == {"p10", "p50", "p90"}
        assert one["wheel_power_w"]["p50"] > body["wheel_power_w"]
        assert one["source"]
    assert {one["name"] for one in body["unknown"]} == {
        "charge temperature", "exhaust back-pressure", "flywheel stress", "gearbox torque",
        "rail-to-manifold differential", "turbine inlet temperature",
    }  # fmt: skip


def test_an_unboosted_stage_names_no_boost(demo: Path, buildlog: Call) -> None:
    body = json.loads(buildlog("headroom", "stage-1", "--json", "--ledger", demo).out)
    assert body["boost_gauge_pa"] is None
    assert all(one["boost_gauge_pa"] is None for one in body["limits"])
    assert "boost" not in buildlog("headroom", "stage-1", "--ledger", demo).out.splitlines()[0]


def test_without_any_power_it_says_what_to_do(tmp_path: Path, buildlog: Call) -> None:
    folder = tmp_path / "car"
    with history(folder, [put("car.toml", CAR), record("intake", kind="found")]):
        pass
    outcome = buildlog("headroom", at=folder)
    assert outcome.status == 4
    assert "no power" in outcome.err
    assert "buildlog dyno add" in outcome.err
    margins = buildlog("margins", at=folder)
    assert margins.status == 0
    assert margins.out.splitlines()[-1].startswith("unknown is not clear.")


def test_what_is_past_its_limit_already_comes_first(demo_copy: Path, buildlog: Call) -> None:
    buildlog("set", "clutch.rated_torque=150 lb*ft", at=demo_copy)
    lines = buildlog("headroom", "working", at=demo_copy).out.splitlines()
    assert lines[0].startswith("no reserve left now: clutch torque; the next limit: ")
    assert all(len(line) <= 80 for line in lines)


def test_a_long_command_stands_on_a_line_of_its_own() -> None:
    from buildlog.records.checked_paths import field
    from buildlog.report.as_text.margins_text import last_lines

    assert len(last_lines([field("tyres.made")])) == 1
    long = last_lines([field("induction.compressor.crank_pulley_diameter")])
    assert long[-1] == 'next: buildlog set induction.compressor.crank_pulley_diameter="..."'
    assert all(len(line) <= 80 for line in long)
