"""Leaves put into the text of a car: only what changes, items with all that is theirs."""

from __future__ import annotations

import pytest

from buildlog.errors import InvalidInput
from buildlog.records.leaf_text import fields
from buildlog.records.plan_changes import with_values

CAR = b"""format = 1
# ours
[car]
name = "Marrow Tern"   # invented

[[work]]
item = "paint"

[[work]]
item = "seats"
note = "re-covered"

[work.part]
maker = "Alder"
"""


def test_an_item_goes_with_its_tables_and_comes_with_them() -> None:
    whole = fields(CAR)
    without = {path: value for path, value in whole.items() if not path.startswith("work[seats]")}
    text = with_values(CAR, without)
    assert fields(text) == without
    assert b"seats" not in text
    assert b"# ours" in text
    assert fields(with_values(text, whole)) == whole


def test_an_item_is_changed_where_it_stands() -> None:
    text = with_values(CAR, fields(CAR) | {"work[seats].part.maker": "Birch"})
    assert text == CAR.replace(b"Alder", b"Birch")


def test_a_text_that_cannot_be_edited_to_the_leaves_is_refused() -> None:
    inline = CAR.replace(b'[car]\nname = "Marrow Tern"   # invented', b'car = {name = "Tern"}')
    with pytest.raises(InvalidInput):
        with_values(inline, fields(CAR))
