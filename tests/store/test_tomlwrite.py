"""The writer of whole TOML files: read back by tomllib, in house style, or refused."""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildlog.errors import InvalidInput
from buildlog.records.toml.toml_edit import append_items
from buildlog.records.toml.toml_write import write

SESSION = {
    "format": 1,
    "date": dt.date(2026, 3, 14),
    "odometer": "88412 mi",
    "dyno": {"id": "R1", "kind": "inertia"},
    "column": [
        {"channel": "engine_speed", "name": "n [1/min]", "unit": "rpm"},
        {"channel": "power", "name": 'P "wheel" #2', "unit": "kW", "at": "wheel"},
    ],
    "pull": [
        {"file": "a.csv", "rows": [1, 40], "column": [{"channel": "power", "name": "P"}]},
        {
            "file": "b.csv",
            "change": {"calibration.lambda_full_load": 0.86},
            "air": {"humidity": "40 %"},
        },
    ],
}
TEXT = """\
format = 1
date = 2026-03-14
odometer = "88412 mi"

[dyno]
id = "R1"
kind = "inertia"

[[column]]
channel = "engine_speed"
name = "n [1/min]"
unit = "rpm"

[[column]]
channel = "power"
name = "P \\"wheel\\" #2"
unit = "kW"
at = "wheel"

[[pull]]
file = "a.csv"
rows = [1, 40]

[[pull.column]]
channel = "power"
name = "P"

[[pull]]
file = "b.csv"

[pull.change]
"calibration.lambda_full_load" = 0.86

[pull.air]
humidity = "40 %"
"""


def test_a_session_is_written_in_house_style() -> None:
    assert write(SESSION).decode() == TEXT


def test_values_come_before_tables_whatever_the_order_given() -> None:
    text = write({"air": {"humidity": "40 %"}, "format": 1}).decode()
    assert text == 'format = 1\n\n[air]\nhumidity = "40 %"\n'


visible = st.text(st.characters(exclude_categories=["Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"]))
scalars = st.one_of(
    visible,
    st.booleans(),
    st.integers(-(2**63), 2**63 - 1),
    st.floats(allow_nan=False, allow_infinity=False),
    st.dates(),
    st.times(),
)
values = st.recursive(
    st.one_of(scalars, st.lists(scalars, max_size=3)),
    lambda inner: st.one_of(
        st.dictionaries(visible, inner, max_size=4),
        st.lists(st.dictionaries(visible, inner, max_size=3), min_size=1, max_size=3),
    ),
    max_leaves=12,
)
documents = st.dictionaries(visible, values, max_size=5)


@given(documents)
@settings(max_examples=150)
def test_whatever_is_written_reads_back(document: dict[str, Any]) -> None:
    assert tomllib.loads(write(document).decode()) == document


@given(documents)
@settings(max_examples=100)
def test_arrays_of_tables_are_adjacent_and_no_table_is_inline(document: dict[str, Any]) -> None:
    headers = re.findall(r"^(\[\[?)(?:[^\[])", write(document).decode(), re.MULTILINE)
    arrays = sum(_arrays(document))
    assert headers.count("[[") == arrays


def _arrays(value: Any) -> list[int]:
    """How many items of arrays of tables a value holds at any depth."""
    if isinstance(value, dict):
        return [n for inner in value.values() for n in _arrays(inner)]
    if isinstance(value, list) and value and isinstance(value[0], dict):
        return [len(value), *(n for item in value for n in _arrays(item))]
    return []


items = st.lists(st.dictionaries(visible, values, max_size=3), min_size=1, max_size=3)


@given(st.dictionaries(visible.filter(lambda key: key != "pull"), values, max_size=4), items, items)
@settings(max_examples=80)
@pytest.mark.long
def test_more_items_leave_every_other_byte(
    document: dict[str, Any], there: list[Any], more: list[Any]
) -> None:
    before = write({"pull": there, **document})
    after = append_items(before, "pull", more)
    assert tomllib.loads(after.decode()) == {**document, "pull": there + more}
    kept = iter(after.splitlines())
    assert all(line in kept for line in before.splitlines())  # all of them, in their order


def test_items_are_placed_after_their_like_and_comments_stay() -> None:
    text = '# mine\nformat = 1  # one\n\n[[pull]]\nfile = "a"\n\n# by mouth\n[[stated]]\nx = 1'
    after = append_items(text.encode(), "pull", [{"file": "b", "air": {"x": "1 %"}}]).decode()
    assert after == (
        '# mine\nformat = 1  # one\n\n[[pull]]\nfile = "a"\n\n[[pull]]\nfile = "b"\n\n'
        '[pull.air]\nx = "1 %"\n\n# by mouth\n[[stated]]\nx = 1\n'
    )


def test_line_ends_of_the_file_are_kept() -> None:
    after = append_items(b'a = 1\r\n[[pull]]\r\nfile = "a"\r\n', "pull", [{"file": "b"}])
    assert after == b'a = 1\r\n[[pull]]\r\nfile = "a"\r\n\r\n[[pull]]\r\nfile = "b"\r\n'


@pytest.mark.parametrize(
    "value",
    [None, object(), {1, 2}, [{"a": 1}, 2], [[{"a": 1}]], "a\u202eb"],
    ids=["nothing", "object", "set", "mixed", "nested", "hidden"],
)
def test_what_toml_cannot_hold_is_refused(value: Any) -> None:
    with pytest.raises(InvalidInput):
        write({"a": value})


def test_an_item_for_a_name_that_is_no_array_is_refused() -> None:
    with pytest.raises(InvalidInput):
        append_items(b"pull = 3\n", "pull", [{"file": "b"}])
