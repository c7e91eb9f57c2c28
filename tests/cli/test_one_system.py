"""Asked for one system of units, a screen shows no quantity of the other."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from buildlog.report.numbers import all_in, declared
from buildlog.unit_table import ROWS
from buildlog.units import as_written
from tests.conftest import Call

METRIC = ("kW|PS|N·m|kPa|bar|hPa|mbar|MPa|km/h|km|cm|mm|m|kg/h|kg/s|g/s|kg|°C|kN|N|m/s|"
          "kg·m\\^2|m\\^2")  # fmt: skip
US = "hp|lb·ft|lb·in|psi|ksi|inHg|mph|mi|ft|lb/h|lb/min|lbf|lb|°F|lb·ft\\^2|ft\\^2"
SCREENS = (
    "show --full", "show", "diff stage-1 stage-2 --full", "dyno sheet --full", "torque list",
    "fault list", "history", "show --at clutch.rated_torque",
)  # fmt: skip
# What somebody wrote in words, and what is read in one unit whatever the car is.
FREE = (
    "0.5 m from the tail", "60 mph air", "2 psi", "held 15 psi", "compressor map: corrected",
    "into the break-in",
)  # fmt: skip


def other(system: str) -> re.Pattern[str]:
    units = METRIC if system == "us" else US
    return re.compile(rf"(?<![\w.,])[+-]?\d[\d,.]* (?:{units})(?![\w·*/^])")


@pytest.mark.parametrize("system", ["us", "metric"])
@pytest.mark.parametrize("screen", SCREENS)
def test_a_screen_shows_one_system(screen: str, system: str, demo: Path, buildlog: Call) -> None:
    told = buildlog(*screen.split(), "--units", system, at=demo)
    assert told.status == 0, told.err
    lines = [line for line in told.out.splitlines() if not any(words in line for words in FREE)]
    # What a source, a formula or a finding says is a sentence, and stays as it was written.
    lines = [line for line in lines if not re.search("source|formula|note |caution", line)]
    found = {line: other(system).findall(line) for line in lines}
    assert {line: hits for line, hits in found.items() if hits} == {}


@pytest.mark.parametrize("text", sorted({row[0] for row in ROWS if row[0] != "1"}))
@pytest.mark.parametrize("system", ["us", "metric"])
def test_a_declared_value_keeps_its_size_in_the_other_system(text: str, system: str) -> None:
    quantity = as_written(f"123.45 {text}")
    if quantity is None:
        return
    with all_in(system):  # type: ignore[arg-type]
        shown = declared(quantity)
    again = as_written(shown)
    assert again is not None
    assert abs(again.si - quantity.si) <= quantity.half_step * 2 + 1e-9 * abs(quantity.si)
    assert declared(quantity) == quantity.text  # outside it stands as it was written
