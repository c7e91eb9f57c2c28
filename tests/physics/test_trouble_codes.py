"""Trouble codes by the structure that the standard gives them."""

import tomllib
from pathlib import Path

import pytest

from buildlog.physics.parts import trouble_codes

TABLES = Path(__file__).parents[2] / "shared" / "tables"
TABLE = tomllib.loads((TABLES / "trouble-codes.toml").read_text(encoding="utf-8"))
KINDS = [
    (code, kind) for kind in ("standard", "maker", "reserved") for code in TABLE["kinds"][kind]
]
GROUPS = [(code, group) for code, group in TABLE["groups"].items() if code.startswith("P")]


@pytest.mark.parametrize(("text", "kind"), KINDS)
def test_who_defines_a_code(text: str, kind: str) -> None:
    assert trouble_codes.parse(text).kind == kind
    assert trouble_codes.parse(text.lower()) == trouble_codes.parse(text)


@pytest.mark.parametrize(("text", "group"), GROUPS)
def test_groups(text: str, group: str) -> None:
    assert trouble_codes.parse(text).group == group


@pytest.mark.parametrize(
    ("text", "group"),
    [("P1301", "powertrain"), ("C0240", "chassis"), ("B1234", "body"), ("U0158", "network")],
)
def test_other_codes_tell_their_system_only(text: str, group: str) -> None:
    assert trouble_codes.parse(text).group == group


@pytest.mark.parametrize("text", ["", "P030", "P03011", "P4301", "X0301", "P030G", "0301"])
def test_other_texts_are_refused(text: str) -> None:
    with pytest.raises(ValueError, match="not a trouble code"):
        trouble_codes.parse(text)
