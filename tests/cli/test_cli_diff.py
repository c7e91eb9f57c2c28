"""`buildlog diff` on the demo: every changed field and nothing else, in text and in JSON."""

from __future__ import annotations

import json
import subprocess
import tomllib
from pathlib import Path
from typing import Any

import pint
import pytest

from tests.conftest import Call

REGISTRY: pint.UnitRegistry[float] = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
# The trade's spelling in pint's words, where they differ. Written by hand, not from the table.
PINT_WORDS = {
    "mi": "mile", "in": "inch", "cc": "cm**3", "cc/min": "cm**3/min", "L/h": "liter/hour",
    "hp": "horsepower", "PS": "metric_horsepower", "N*m": "newton*meter", "Nm": "newton*meter",
    "lb*ft": "foot*pound_force", "percent": "percent", "kg*m^2": "kg*m**2", "m^2": "m**2",
    "deg": "degree", "V": "volt", "g/s": "gram/second", "mm": "mm", "degC": "degC",
    "N*s^2/m^2": "N*s**2/m**2", "dB(A)": "", "kg/h": "kg/hour",
}  # fmt: skip
KEYS = {"work": "item", "due": "what", "odometer_offset": "key"}


def car_at(folder: Path, entry: str) -> dict[str, Any]:
    """The car.toml of an entry as plain git has it."""
    text = subprocess.run(
        ["git", "-C", str(folder), "show", f"{entry}:car.toml"],
        capture_output=True, check=True,
    ).stdout.decode()  # fmt: skip
    return tomllib.loads(text)


def flat(table: dict[str, Any], prefix: str = "") -> dict[str, Any]:
    """Leaves by path, by our own hand and not the program's."""
    out: dict[str, Any] = {}
    for key, value in table.items():
        path = f"{prefix}{key}"
        if prefix.endswith("written_for."):
            out[f'{prefix}"{key}"'] = value
        elif isinstance(value, dict):
            out |= flat(value, f"{path}.")
        elif isinstance(value, list) and value and isinstance(value[0], dict):
            for item in value:
                out |= flat(item, f"{path}[{item[KEYS[key]]}].")
        else:
            out[path] = value
    return out


def physical(value: Any) -> Any:
    """A quantity as pint's base units, where pint can read it; else the value itself."""
    if not isinstance(value, str) or " " not in value:
        return value
    number, unit = value.split(" ", 1)
    try:
        amount = float(number)
        words = PINT_WORDS.get(unit, unit)
        return REGISTRY.Quantity(amount, words).to_base_units()
    except (ValueError, pint.errors.PintError, AttributeError, AssertionError):
        return value


def alike(one: Any, other: Any) -> bool:
    if one == other:
        return True
    a, b = physical(one), physical(other)
    if isinstance(a, REGISTRY.Quantity) and isinstance(b, REGISTRY.Quantity):
        if a.dimensionality != b.dimensionality:
            return False
        if one.split(" ", 1)[1] == other.split(" ", 1)[1]:
            return bool(a == b)
        return bool(abs(a - b) <= 1e-3 * abs(a))
    return False


PAIRS = [
    ("1", "2"), ("2", "3"), ("3", "4"), ("baseline", "stage-1"), ("stage-1", "5"), ("5", "7"),
    ("stage-1", "stage-2"), ("baseline", "stage-2"), ("first", "latest"), ("latest", "first"),
    ("stage-2", "stage-2-recheck"), ("9", "13"),
]  # fmt: skip


@pytest.mark.parametrize(("one", "other"), PAIRS)
@pytest.mark.one_in(4)
def test_every_changed_field_and_nothing_else(
    one: str, other: str, demo: Path, buildlog: Call
) -> None:
    body = json.loads(buildlog("diff", one, other, "--json", "--ledger", demo).out)
    before, after = (flat(car_at(demo, body[side]["id"])) for side in ("from", "to"))
    want = {
        path for path in before.keys() | after.keys()
        if path not in before or path not in after or not alike(before[path], after[path])
    }  # fmt: skip
    assert {change["path"] for change in body["changes"]} == want
    for change in body["changes"]:
        path = change["path"]
        kind = "added" if path not in before else "removed" if path not in after else "changed"
        assert change["kind"] == kind
        for side, values in (("from", before), ("to", after)):
            value = values.get(path)
            assert (change[side] is None) is (value is None)
            if isinstance(value, str):
                assert change[side]["text"] == value
            amount = physical(value)
            if change[side] and change[side]["unit"] and isinstance(amount, REGISTRY.Quantity):
                assert change[side]["si"] == pytest.approx(amount.magnitude, rel=1e-9)


def test_the_full_text_names_every_changed_field(demo: Path, buildlog: Call) -> None:
    body = json.loads(buildlog("diff", "stage-1", "stage-2", "--json", "--ledger", demo).out)
    lines = buildlog("diff", "stage-1", "stage-2", "--full", "--ledger", demo).out.splitlines()
    was = next(line.index(" was ") for line in lines if line.startswith("changed"))
    # a cell goes on in the line below: the fields read down, without the values beside them
    text = " ".join(" ".join(line[:was] for line in lines).split())
    for change in body["changes"]:
        last = change["path"].rsplit(".", 1)[-1].strip('"')
        assert last in text or last.replace("_", " ") in text, change["path"]


@pytest.mark.parametrize(
    ("one", "other", "lines"),
    [("baseline", "stage-1", 52), ("stage-1", "stage-2", 52), ("first", "latest", 60)],
)
def test_without_full_it_is_about_one_screen(
    one: str, other: str, lines: int, demo: Path, buildlog: Call
) -> None:
    """Eighty columns; what is not shown is counted, and no caution is left out."""
    shown = buildlog("diff", one, other, "--ledger", demo).out
    body = json.loads(buildlog("diff", one, other, "--json", "--ledger", demo).out)
    assert len(shown.splitlines()) <= lines
    assert max(map(len, shown.splitlines())) <= 80
    block = shown.split("\nchanged ")[1].split("\n\n")[0].splitlines()
    (more,) = (line for line in block if line.startswith("  and "))
    values = block[1 : block.index(more)]
    assert len(values) + int(more.split()[1]) == len(body["changes"])
    words = " ".join(shown.split())
    loud = [f["text"] for f in body["findings"] if f["severity"] != "note"]
    assert loud
    assert [text for text in loud if text not in words] == []


def test_the_screen_begins_with_what_the_physics_ask_for(demo: Path, buildlog: Call) -> None:
    shown = buildlog("diff", "stage-1", "stage-2", "--ledger", demo).out
    for words in ("boost target gauge", "injectors flow", "rated torque", "T26-004"):
        assert words in shown
    body = json.loads(buildlog("diff", "stage-1", "stage-2", "--json", "--ledger", demo).out)
    assert [row["name"] for row in body["margins"][:4] if row["name"] not in shown] == []


def test_measured_on_the_demo(demo: Path, buildlog: Call) -> None:
    body = json.loads(buildlog("diff", "stage-1", "stage-2", "--json", "--ledger", demo).out)
    assert next(iter(body)) == "format"
    assert body["format"] == "buildlog/diff/1"
    measured = body["measured"]
    assert measured["comparable"] is True
    assert measured["standard"] == "SAE J1349"
    assert measured["reasons"] == ["two days on dyno R1"]
    assert measured["power"]["beyond_scatter"] is True
    assert measured["power"]["peak_delta"] > measured["power"]["half_width_95"] > 0
    text = buildlog("diff", "stage-1", "stage-2", "--ledger", demo).out
    assert "larger than the scatter" in text


def test_without_names_and_without_changes_the_two_newest_sessions(
    demo: Path, buildlog: Call
) -> None:
    body = json.loads(buildlog("diff", "--json", "--ledger", demo).out)
    assert (body["from"]["stage"], body["to"]["stage"]) == ("stage-2", "stage-2-recheck")
    assert body["why_these"] == "the two newest versions with dyno sessions"


def test_without_names_and_with_changes_since_the_last_dyno(
    demo_copy: Path, buildlog: Call
) -> None:
    assert buildlog("set", "engine.bore=84.5 mm", "--ledger", demo_copy).status == 0
    body = json.loads(buildlog("diff", "--json", "--ledger", demo_copy).out)
    assert (body["from"]["stage"], body["to"]["name"]) == ("stage-2-recheck", "working")
    assert [change["path"] for change in body["changes"]] == ["engine.bore"]
    assert body["measured"] is None
    assert body["measured_reason"] == "no dyno session measured working"


def test_a_bore_in_inches_is_no_change(demo_copy: Path, buildlog: Call) -> None:
    for value, paths in (("90.2 mm", ["engine.bore"]), ("3.551 in", []), ("90.5 mm", ["bore"])):
        buildlog("set", f"engine.bore={value}", "--ledger", demo_copy)
        body = json.loads(
            buildlog("diff", "latest", "working", "--json", "--ledger", demo_copy).out
        )
        if paths:
            assert [change["path"] for change in body["changes"]] == ["engine.bore"]
        buildlog("record", "-m", f"bore {value}", "--date", "2026-07-01", "--ledger", demo_copy)
    body = json.loads(buildlog("diff", "17", "18", "--json", "--ledger", demo_copy).out)
    assert body["changes"] == []
    body = json.loads(buildlog("diff", "18", "19", "--json", "--ledger", demo_copy).out)
    assert [change["path"] for change in body["changes"]] == ["engine.bore"]


def test_another_standard_and_other_units(demo: Path, buildlog: Call) -> None:
    out = buildlog("diff", "baseline", "stage-1", "--standard", "none", "--units", "metric",
                   "--ledger", demo).out  # fmt: skip
    assert "observed, no correction" in out
    assert " kW at the wheels" in out


def test_the_figure_beside_it(demo: Path, tmp_path: Path, buildlog: Call) -> None:
    file = tmp_path / "gain.svg"
    outcome = buildlog("diff", "stage-1", "stage-2", "--plot", file, "--ledger", demo)
    assert outcome.status == 0
    assert file.read_bytes().startswith(b"<?xml")


def test_strict_ends_with_one_where_something_is_to_be_looked_at(
    demo: Path, buildlog: Call
) -> None:
    body = json.loads(buildlog("diff", "5", "7", "--json", "--ledger", demo).out)
    loud = any(finding["severity"] != "note" for finding in body["findings"])
    assert buildlog("diff", "5", "7", "--strict", "--ledger", demo).status == int(loud)
    assert buildlog("diff", "5", "7", "--ledger", demo).status == 0
