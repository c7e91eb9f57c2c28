"""Trouble codes against worked values of their two-byte form."""

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildlog.physics import trouble_codes

TABLES = Path(__file__).parents[2] / "shared" / "tables"
TABLE = tomllib.loads((TABLES / "trouble-codes.toml").read_text(encoding="utf-8"))
KINDS = [
    (code, kind) for kind in ("standard", "maker", "reserved") for code in TABLE["kinds"][kind]
]
GROUPS = [(code, group) for code, group in TABLE["groups"].items() if code.startswith("P")]


@pytest.mark.parametrize(("a", "b", "text"), TABLE["bytes"]["rows"])
def test_worked_bytes(a: int, b: int, text: str) -> None:
    assert trouble_codes.from_bytes(a, b) == trouble_codes.parse(text)
    assert trouble_codes.from_bytes(a, b).text == text


@pytest.mark.parametrize(("text", "kind"), KINDS)
def test_who_defines_a_code(text: str, kind: str) -> None:
    assert trouble_codes.parse(text).kind == kind


@pytest.mark.parametrize(("text", "group"), GROUPS)
def test_groups(text: str, group: str) -> None:
    assert trouble_codes.parse(text).group == group


@pytest.mark.parametrize(
    ("text", "group"),
    [("P1301", "powertrain"), ("C0240", "chassis"), ("B1234", "body"), ("U0158", "network")],
)
def test_other_codes_tell_their_system_only(text: str, group: str) -> None:
    assert trouble_codes.parse(text).group == group


@given(st.integers(0, 255), st.integers(0, 255))
def test_bytes_are_packed_as_read(a: int, b: int) -> None:
    """Packed again by hand from the text, the two bytes come back."""
    code = trouble_codes.from_bytes(a, b)
    packed = "PCBU".index(code.letter) << 14 | int(code.text[1]) << 12 | int(code.text[2:], 16)
    assert packed == a << 8 | b
    assert trouble_codes.parse(code.text.lower()) == code


@pytest.mark.parametrize("text", ["", "P030", "P03011", "P4301", "X0301", "P030G", "0301"])
def test_other_texts_are_refused(text: str) -> None:
    with pytest.raises(ValueError, match="not a trouble code"):
        trouble_codes.parse(text)


@pytest.mark.parametrize(("a", "b"), [(-1, 0), (256, 0), (0, -1), (0, 256)])
def test_what_is_no_byte_is_refused(a: int, b: int) -> None:
    with pytest.raises(ValueError, match="two bytes"):
        trouble_codes.from_bytes(a, b)
