"""`buildlog margins` and its places in diff, next and plot, on the demo."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path
from typing import Any

import pytest

from tests.conftest import Call

KEYS = {
    "name", "demand", "capacity", "unit", "margin", "left", "state", "basis", "source", "missing",
}  # fmt: skip
BASES = {"measured", "declared", "computed", "predicted", "typical", "missing"}
ORDER = ["over", "close", "clear", "unknown"]


def body(call: Call, *arguments: str | Path) -> dict[str, Any]:
    outcome = call(*arguments, "--json")
    assert outcome.status == 0, outcome.err
    found: dict[str, Any] = json.loads(outcome.out)
    return found


def test_json_has_every_key_and_the_tightest_first(demo: Path, buildlog: Call) -> None:
    found = body(buildlog, "margins", "latest", "--ledger", demo)
    assert found["format"] == "buildlog/margins/1"
    rows = found["margins"]
    assert all(row.keys() >= KEYS for row in rows)
    assert {row["basis"] for row in rows} <= BASES
    counted = [row for row in rows if not row["information"]]
    places = [ORDER.index(row["state"]) for row in counted]
    assert places == sorted(places)
    for row in rows:
        unknown = row["state"] == "unknown"
        assert bool(row["missing"]) is unknown
        assert (row["margin"] is None and row["left"] is None) is unknown
        assert row["source"] or unknown, row["name"]
        assert not (row["margin"] and row["left"])


def test_eighteen_or_more_answer_on_the_last_version(demo: Path, buildlog: Call) -> None:
    rows = body(buildlog, "margins", "latest", "--ledger", demo)["margins"]
    answers = [row for row in rows if row["state"] != "unknown" and not row["information"]]
    assert len(answers) >= 18
    kinds = {row["name"].split(":")[0] for row in answers}
    assert len(kinds) >= 18
    assert rows[0]["name"] == "clutch torque"


def test_the_power_is_the_one_that_was_measured(demo: Path, buildlog: Call) -> None:
    power = body(buildlog, "margins", "stage-2", "--ledger", demo)["power"]
    assert power["basis"] == "measured"
    history = body(buildlog, "history", "--ledger", demo)["entries"]
    stage = next(entry for entry in history if entry["stage"] == "stage-2")
    # The trailer holds whole watts.
    assert round(power["power_w"]["p50"]) == stage["peak_wheel_power_w"]


def test_first_line_answers_and_every_line_has_its_basis(demo: Path, buildlog: Call) -> None:
    lines = buildlog("margins", "latest", "--ledger", demo).out.splitlines()
    assert lines[0].startswith("tightest: clutch torque, ")
    assert "left" in lines[0]
    assert any(line.startswith("  in words: clutch torque comes to ") for line in lines[1:4])
    assert lines[-1].startswith("unknown is not clear. next: buildlog set ")
    assert all(len(line) <= 80 for line in lines)
    full = buildlog("margins", "latest", "--full", "--ledger", demo).out
    rows = re.findall(r"  (?:close|clear|over)$", full, re.MULTILINE)
    asked = re.findall(r"^    load: (\w+)", full, re.MULTILINE)
    assert len(rows) >= 18
    assert len(asked) >= 18
    assert set(asked) <= BASES
    assert len(re.findall(r"does not say:", full)) == len(asked)


def test_the_last_line_names_a_field_and_set_takes_it(demo_copy: Path, buildlog: Call) -> None:
    last = buildlog("margins", at=demo_copy).out.splitlines()[-1]
    path = re.search(r'buildlog set ([\w.]+)="\.\.\."', last)
    assert path is not None
    assert path[1] == "fuel.injectors.least_differential" or path[1] == "gearbox.rated_torque"
    assert buildlog("set", "gearbox.rated_torque=400 N*m", at=demo_copy).status == 0
    rows = body(buildlog, "margins", "working")["margins"]
    gearbox = next(row for row in rows if row["name"] == "gearbox torque")
    assert gearbox["state"] in ("close", "clear")


def test_units_are_the_readers(demo: Path, buildlog: Call) -> None:
    metric = buildlog("margins", "--units", "metric", "--ledger", demo).out
    assert " N·m" in metric
    assert "lb·ft" not in metric


def test_parts_not_yet_measured_are_predicted_or_told(demo: Path, buildlog: Call) -> None:
    found = body(buildlog, "margins", "5", "--ledger", demo)
    assert found["power"]["basis"] == "predicted"
    states = {row["name"]: row["state"] for row in found["margins"]}
    # The calibration of the unboosted engine under boost: too lean, and too much to ask.
    assert states["full-load lambda"] == "over"
    assert states["knock"] == "over"


@pytest.mark.parametrize("name", ["nonsense", "99", "plan:none"])
def test_an_unknown_version_names_the_known(name: str, demo: Path, buildlog: Call) -> None:
    outcome = buildlog("margins", name, "--ledger", demo)
    assert outcome.status == 3
    assert "Traceback" not in outcome.err


@pytest.mark.parametrize(
    ("old", "new", "text"),
    [
        ('relief_gauge = "10.5 psi"', 'relief_gauge = "0 psi"', "must be above zero"),
        ('inner_diameter = "155 mm"', 'inner_diameter = "250 mm"', "must be smaller"),
        ('wall = "1.8 mm"', 'wall = "60 mm"', "does not fit"),
    ],
)
def test_nonsense_ends_as_a_sentence(
    old: str, new: str, text: str, demo_copy: Path, buildlog: Call
) -> None:
    car = demo_copy / "car.toml"
    before = car.read_text("utf-8")
    assert old in before
    car.write_text(before.replace(old, new), "utf-8")
    outcome = buildlog("margins", at=demo_copy)
    said = " ".join((outcome.out + outcome.err).split())
    assert "Traceback" not in said
    assert "itself failed" not in said
    assert text in said


def test_an_impossible_tyre_size_ends_as_a_sentence(demo_copy: Path, buildlog: Call) -> None:
    car = demo_copy / "car.toml"
    text = car.read_text("utf-8").replace('rolling_circumference = "1.905 m"\n', "")
    car.write_text(text.replace('size = "205/60 R15"', 'size = "20/6 R1500"'), "utf-8")
    outcome = buildlog("margins", at=demo_copy)
    assert outcome.status == 0
    said = " ".join(outcome.out.split())
    assert "'20/6 R1500' is not a metric radial tire size" in said
    assert "tire speed (missing: tyres.size)" in said


@pytest.mark.parametrize(
    "change", ['rated_torque = "-385 N*m"', 'rated_torque = "0 N*m"', "ratios = []"]
)
def test_negative_ratings_and_empty_gearboxes_are_refused(
    change: str, demo_copy: Path, buildlog: Call
) -> None:
    car = demo_copy / "car.toml"
    field = change.split(" =")[0]
    text = re.sub(rf"^{field} = .*$", change, car.read_text("utf-8"), count=1, flags=re.MULTILINE)
    car.write_text(text, "utf-8")
    outcome = buildlog("margins", at=demo_copy)
    assert outcome.status == 4
    assert "car.toml, line" in outcome.err


def test_diff_has_its_margins(demo: Path, buildlog: Call) -> None:
    rows = body(buildlog, "diff", "stage-1", "stage-2", "--ledger", demo)["margins"]
    by_name = {row["name"]: row for row in rows}
    injectors = by_name["injector duty"]
    assert injectors["tighter"]
    assert injectors["after"]["margin"]["p50"] < injectors["before"]["margin"]["p50"]
    assert by_name["clutch torque"]["before"]["state"] == "unknown"
    assert by_name["boost against relief"]["before"] is None
    text = buildlog("diff", "stage-1", "stage-2", "--ledger", demo).out
    block = text[text.index("left of the limit") : text.index("to look at")]
    (first, *_) = body(buildlog, "margins", "stage-2", "--ledger", demo)["margins"]
    assert f"reached first: {first['name']}" in block
    assert "unknown to close" in block
    assert all(len(line) <= 80 for line in block.splitlines())
    full = buildlog("diff", "stage-1", "stage-2", "--full", "--ledger", demo).out
    assert full.count("fastener:") > block.count("fastener:")


def test_after_and_before_are_what_margins_says(demo: Path, buildlog: Call) -> None:
    rows = body(buildlog, "diff", "stage-1", "stage-2", "--ledger", demo)["margins"]
    alone = body(buildlog, "margins", "stage-2", "--ledger", demo)["margins"]
    after = {row["name"]: row["after"] for row in rows if row["after"]}
    assert after == {row.pop("name"): row for row in alone}


def test_next_holds_up_pulls_while_a_margin_is_over(demo_copy: Path, buildlog: Call) -> None:
    assert buildlog("set", "clutch.rated_torque=250 N*m", at=demo_copy).status == 0
    blocked = body(buildlog, "next")["blocked"]
    assert any(one["gate"] == "margin-over" and "clutch torque" in one["why"] for one in blocked)


@pytest.mark.parametrize("ending", ["svg", "pdf", pytest.param("png", marks=pytest.mark.long)])
@pytest.mark.one_in(2)
def test_the_figure_is_the_same_twice(
    ending: str, demo: Path, tmp_path: Path, buildlog: Call
) -> None:
    files = [tmp_path / f"{n}.{ending}" for n in (1, 2)]
    for file in files:
        outcome = buildlog("plot", "stage-2", "--what", "margins", "--out", file, "--ledger", demo)
        assert outcome.status == 0, outcome.err
    assert files[0].read_bytes() == files[1].read_bytes()


def test_the_figure_is_grey_and_about_one_version(
    demo: Path, tmp_path: Path, buildlog: Call
) -> None:
    out = tmp_path / "m.svg"
    assert buildlog("plot", "--what", "margins", "--out", out, "--ledger", demo).status == 0
    colours = set(re.findall(r"#[0-9a-fA-F]{6}", out.read_text("utf-8")))
    inks = [[int(c[i : i + 2], 16) for i in (1, 3, 5)] for c in colours]
    assert all(max(ink) - min(ink) <= 16 for ink in inks)  # the house's ink is a cool grey
    two = buildlog("plot", "1", "2", "--what", "margins", "--out", out, "--ledger", demo)
    assert two.status == 2


def loads_numpy(car: Path) -> bool:
    """Whether `margins` of a car's working files does."""
    import subprocess
    import sys

    code = (
        "import sys\nfrom buildlog.cli.main import run\ntry:\n"
        f"    run(['margins', 'working', '--ledger', {str(car)!r}])\n"
        "except SystemExit:\n    pass\nprint('numpy' in sys.modules)"
    )
    from tests.conftest import ROOT

    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT
    )
    return done.stdout.splitlines()[-1] == "True"


def test_a_car_that_nobody_measured_loads_no_numpy(tmp_path: Path, buildlog: Call) -> None:
    car = tmp_path / "car"
    assert buildlog("new", car, "--name", "Aldane Quill").status == 0
    assert buildlog("set", "engine.rated_power=140 hp", "--ledger", car).status == 0
    assert not loads_numpy(car)


def test_what_was_measured_is_worked_out_once_for_the_same_bytes(
    demo: Path, tmp_path: Path, buildlog: Call
) -> None:
    """The second time from the index, with the same answer."""
    car = Path(shutil.copytree(demo, tmp_path / "car"))
    first = buildlog("margins", "--json", at=car).out
    assert not loads_numpy(car)
    assert buildlog("margins", "--json", at=car).out == first
