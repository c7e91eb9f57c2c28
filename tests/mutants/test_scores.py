"""The list of scores speaks of files that are there, and gives a reason for every survivor."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest

from tests.conftest import ROOT
from tests.mutants.run import HERE, nearest

LISTED = tomllib.loads((HERE / "scores.toml").read_text("utf-8"))["file"]


@pytest.mark.parametrize("one", LISTED, ids=lambda one: one["name"])
def test_a_listed_file(one: dict[str, Any]) -> None:
    assert (ROOT / one["name"]).is_file()
    assert nearest(one["name"])
    left = one.get("survivor", [])
    assert all(each["mutant"] and each["why"] for each in left)
    assert one["of"] - one["noticed"] == len(left)


def test_each_file_is_listed_once() -> None:
    names = [one["name"] for one in LISTED]
    assert sorted(set(names)) == sorted(names)
