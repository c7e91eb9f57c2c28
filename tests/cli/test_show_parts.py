"""`show --parts`: since when, by whom, how far."""

from __future__ import annotations

import json
from pathlib import Path

import pytest


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
