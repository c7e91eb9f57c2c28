"""`show --parts`: since when, by whom, how far."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from buildlog.records.key_words import key_words


def parts(buildlog, *arguments: str) -> dict[str, dict]:
    body = json.loads(buildlog("show", "--parts", "--json", *arguments).out)
    return {one["path"]: one for one in body["parts"]}


def test_the_demos_parts_by_their_distance(demo: Path, buildlog, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.chdir(demo)
    found = parts(buildlog)
    clutch = found["clutch"]
    assert (clutch["serial"], clutch["by"], clutch["since"]["entry"]) == ("90233", "D-07", 5)
    assert clutch["distance_km"] == pytest.approx((89541 - 88971) * 1.609344)
    assert clutch["break_in_left_km"] == 0
    assert found["engine.timing_drive"]["basis"] == "declared"
    assert found["engine.timing_drive"]["distance_km"] == pytest.approx((89541 - 71200) * 1.609344)
    assert found["gearbox"]["since"] is None
    assert found["gearbox"]["distance_km"] is None


def test_at_an_earlier_version(demo: Path, buildlog, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.chdir(demo)
    stage_2 = parts(buildlog, "stage-2")["clutch"]
    assert stage_2["distance_km"] == pytest.approx(212 * 1.609344)
    assert stage_2["break_in_left_km"] == pytest.approx(288 * 1.609344)
    came = parts(buildlog, "first")["clutch"]
    assert came["condition"] == "used"
    assert came["before"]["entry"] == 1
    assert "nothing says since when" in came["distance_unknown"]


def test_the_screen_fits_and_its_last_line_is_a_command(demo: Path, buildlog):
    lines = buildlog("show", "--parts", at=demo).out.splitlines()
    assert all(len(line) <= 80 for line in lines)
    assert lines[-1] == "next: buildlog next"
    assert "break-in 500 mi: done" in "\n".join(lines)


def test_the_car_in_one_screen(demo: Path, buildlog):
    """Each assembly in one or two lines; what is not shown is counted."""
    lines = buildlog("show", at=demo).out.splitlines()
    body = json.loads(buildlog("show", "--json", at=demo).out)
    assert all(len(line) <= 80 for line in lines)
    named = {path.split(".")[0].split("[")[0] for path in body["fields"]} - {"format"}
    for assembly in named:
        assert any(line.startswith(key_words(assembly)) for line in lines), assembly
    heading = next(i for i, line in enumerate(lines) if line.startswith("assembly"))
    table = lines[heading + 1 : next(i for i, x in enumerate(lines) if x.startswith("("))]
    begun = [i for i, line in enumerate(table) if not line.startswith(" ")]
    assert len(begun) == len(named)
    for at, until in zip(begun, [*begun[1:], len(table)], strict=True):
        assert until - at <= 2, table[at:until]
    text = " ".join(" ".join(lines).split())
    assert "boost target gauge 9.0 psi" in text
    assert "rated torque 284 lb·ft" in text
    assert "seats; suspension" in text
    (hint,) = (line for line in lines if line.startswith("("))
    shown = text.split("what it is")[1].split(" (")[0].count(";")
    fields = [path for path in body["fields"] if path != "format"]
    rows = {path.split(".")[0].split("[")[0] for path in fields}
    left = len(fields) - shown - len(rows)
    assert hint == f"({left} more fields: --assembly NAME, or --full for all)"


def test_in_full_every_field_stands(demo: Path, buildlog):
    body = json.loads(buildlog("show", "--json", at=demo).out)
    whole = buildlog("show", "--full", at=demo).out.splitlines()
    table = whole[whole.index("") + 2 : -2]
    fields = [
        line for line in table if line.split("  ")[-1].strip().startswith(("entry", "before"))
    ]
    assert len(fields) == len([path for path in body["fields"] if path != "format"])
    one = buildlog("show", "--assembly", "clutch", at=demo).out
    assert "inner diameter" in one
    assert "part maker" in one
    assert "nothing is given there" in buildlog("show", "--assembly", "nitrous", at=demo).out
