"""Leaves put into the text of a car: only what changes, items with all that is theirs."""

from __future__ import annotations

import pytest

from buildlog.errors import InvalidInput
from buildlog.records.leaf_text import edited, fields
from buildlog.records.plan_changes import with_values
from tests.counting import lines_run

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


def test_many_new_items_are_put_in_at_once() -> None:
    """A plan of 1,000 items took 67 s: each was put in by an edit of its own, which reads all."""
    before = b'format = 1\n\n[car]\nname = "Marrow Tern"\n\n[[work]]\nitem = "first"\n'
    spent = []
    for count in (10, 100):
        more = "".join(f'\n[[work]]\nitem = "item {n}"\n' for n in range(count)).encode()
        meant = fields(before + more)
        with lines_run() as run:
            text = edited(before, meant)
        spent.append(run.number)
        assert fields(text) == meant
    assert spent[1] < 12 * spent[0]
