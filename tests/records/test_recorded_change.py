"""The trailer `Changed`: its words, and what is read back of them."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildlog.analysis.car.changes import changes
from buildlog.records.car.configuration import Configuration
from buildlog.records.recorded_change import added_files, changed_fields, changed_in_car
from tests.documents import documents

FOLDERS = {"dyno": "session", "checks": "check", "faults": "fault", "torque": "tightening"}


def paths(one: dict[str, Any], other: dict[str, Any]) -> list[str]:
    read = Configuration.model_validate
    return [change.path for change in changes(read(one), read(other))]


def test_fields_in_few_words() -> None:
    assert changed_fields(["engine.bore"]) == "engine bore"
    assert changed_fields(["engine.bore", "fuel.ron", "fuel.mon"]) == "engine bore; fuel"
    assert changed_fields([]) == ""


@settings(max_examples=60)
@given(documents(), documents(), st.integers(25, 80))
def test_few_words_are_few_and_are_read_as_of_the_car(
    one: dict[str, Any], other: dict[str, Any], longest: int
) -> None:
    said = changed_fields(paths(one, other), longest)
    assert len(said) <= longest
    assert changed_in_car(said) == (said or None)


@pytest.mark.parametrize("folder", FOLDERS)
def test_files_alone_are_told_and_are_read_as_files(folder: str) -> None:
    end = "/session.toml" if folder == "dyno" else ".toml"
    said = added_files([f"{folder}/clutch rated torque{end}"])
    assert said == f"{FOLDERS[folder]} clutch rated torque"
    assert changed_in_car(said) is None


def test_many_files_are_counted() -> None:
    found = [f"faults/{name}.toml" for name in "abcde"]
    assert added_files(found) == "fault a; fault b; fault c and 2 more"
    assert added_files(["attachments/a.pdf", "dyno/x/pull-1.csv"]) == ""
    assert changed_in_car(None) is None
