"""The table of planted faults still fits the program; whether they are noticed is a long test."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.conftest import ROOT
from tests.mutants.planted import PlantedFault, faults, noticed, pytest_in
from tests.mutants.run import copied, nearest


def name_of(fault: PlantedFault) -> str:
    return fault.name


@pytest.mark.parametrize("fault", faults(), ids=name_of)
def test_it_can_be_planted_in_one_place(fault: PlantedFault) -> None:
    assert (ROOT / fault.file).read_text("utf-8").count(fault.old) == 1
    assert fault.old != fault.new
    for test in fault.tests:
        file, _, name = test.partition("::")
        assert f"def {name}(" in (ROOT / file).read_text("utf-8") or not name


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("planted")
    copied(place)
    every = tuple(dict.fromkeys(test for one in faults() for test in one.tests))
    whole = pytest_in(place, every)
    assert whole.returncode == 0, whole.stdout
    return place


@pytest.mark.long
@pytest.mark.parametrize("fault", faults(), ids=name_of)
def test_it_is_noticed(fault: PlantedFault, copy: Path) -> None:
    assert noticed(fault, copy)


def test_every_product_file_has_its_tests_or_says_so() -> None:
    assert nearest("buildlog/store/trust/keyring.py")
    assert all((ROOT / test).exists() for test in nearest("buildlog/analysis/pulls/relate.py"))
