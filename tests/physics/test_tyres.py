"""Tyre sizes, speed symbols and load indices against UN R30's tables and trade tables."""

import tomllib
from itertools import pairwise
from math import pi
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildlog.physics.parts import tyres

TABLES = Path(__file__).parents[2] / "shared" / "tables"
TABLE = tomllib.loads((TABLES / "tyre-tables.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize(("size", "rounded", "exact"), TABLE["diameters"]["rows"])
def test_diameter(size: str, rounded: float, exact: float) -> None:
    ours = tyres.diameter(tyres.parse_size(size)) * 1e3
    assert ours == pytest.approx(exact, abs=0.06)
    assert ours == pytest.approx(rounded, abs=0.8)  # UN R30 rounds H and d to millimetres


@pytest.mark.parametrize(("code", "millimetres"), TABLE["rims"]["rows"])
def test_rim_diameter_is_the_tabulated_one_before_rounding(code: int, millimetres: int) -> None:
    assert round(tyres.parse_size(f"205/55 R{code}").rim * 1e3) == millimetres


def test_rolling_circumference() -> None:
    row = TABLE["rolling"]
    free = row["diameter_mm"] / 1e3
    rolled = tyres.rolling_circumference(free)
    assert 1609.344 / rolled == pytest.approx(row["turns_per_mile"], abs=0.006)
    assert rolled == pytest.approx(row["makers_convention"] * free, rel=2.5e-3)
    assert rolled < pi * free


def test_speed_symbols() -> None:
    for symbol, kmh in TABLE["speed_symbols"]["kilometres_per_hour"].items():
        assert tyres.SPEED_SYMBOLS[symbol] * 3.6 == pytest.approx(kmh, rel=1e-12)
    assert tyres.SPEED_SYMBOLS["U"] < tyres.SPEED_SYMBOLS["H"] < tyres.SPEED_SYMBOLS["V"]


def test_load_index() -> None:
    data = TABLE["load_index"]
    for index, kilograms in data["kilograms"].items():
        assert tyres.LOAD_INDEX[int(index)] == kilograms


def test_every_load_index_is_near_the_geometric_rule_and_rising() -> None:
    tolerance = TABLE["load_index"]["geometric_tolerance"]
    for index, kilograms in tyres.LOAD_INDEX.items():
        assert kilograms == pytest.approx(45 * 10 ** (index / 80), rel=tolerance), index
    assert sorted(tyres.LOAD_INDEX) == list(range(70, 121))
    loads = [tyres.LOAD_INDEX[i] for i in sorted(tyres.LOAD_INDEX)]
    assert all(a < b for a, b in pairwise(loads))


@pytest.mark.parametrize(
    ("text", "load", "speed"),
    [
        ("205/55 R16", None, None),
        ("205/55R16 91V", 91, "V"),
        ("P205/55r16 91v", 91, "V"),
        ("205/55 ZR16", None, "ZR"),
        ("205/55 ZR16 (91Y)", 91, "Y"),
        ("205/55 R16 94W XL", 94, "W"),
        ("205/55R16XL 94W", 94, "W"),
        ("LT205/55 R16 110/107Q", 110, "Q"),
    ],
)
def test_designations_as_people_write_them(text: str, load: int | None, speed: str | None) -> None:
    size = tyres.parse_size(text)
    assert (size.width, size.aspect) == (0.205, 0.55)
    assert size.rim == pytest.approx(0.4064)
    assert (size.load_index, size.speed_symbol) == (load, speed)


@given(st.integers(125, 355), st.integers(25, 85), st.integers(12, 24))
def test_written_sizes_are_read_back(width: int, aspect: int, rim: int) -> None:
    size = tyres.parse_size(f"{width}/{aspect} R{rim}")
    read = (round(size.width * 1e3), round(size.aspect * 100), round(size.rim / 0.0254))
    assert read == (width, aspect, rim)


@given(st.floats(0.3, 1.2), st.floats(0.001, 0.5))
def test_a_larger_tyre_rolls_farther(free: float, more: float) -> None:
    assert tyres.rolling_circumference(free) < tyres.rolling_circumference(free + more)


@pytest.mark.parametrize(
    "text", ["", "205", "205/55", "205/55-16", "31x10.5 R15", "2055/55 R16", "205/55 R16 91"]
)
def test_other_texts_are_refused(text: str) -> None:
    with pytest.raises(ValueError, match="not a metric radial tire size"):
        tyres.parse_size(text)


def test_a_diameter_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="must be above zero"):
        tyres.rolling_circumference(0)
