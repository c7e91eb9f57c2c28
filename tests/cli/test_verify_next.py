"""`verify` ends in the command that follows, and that command runs."""

from __future__ import annotations

import shlex
from pathlib import Path

import pytest

from tests.conftest import Call
from tests.histories import loosen


def last(out: str) -> list[str]:
    line = out.rstrip().split("\n")[-1]
    assert line.startswith("next: ")
    return shlex.split(line.removeprefix("next: "))


def test_a_whole_ledger_goes_on_to_its_history(demo: Path, buildlog: Call) -> None:
    told = buildlog("verify", demo)
    program, *arguments = last(told.out)
    assert program == "buildlog"
    assert buildlog(*arguments).status == 0


def test_an_empty_ledger_is_not_called_damaged(
    tmp_path: Path, buildlog: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    buildlog("new", tmp_path / "car", "--name", "Tern", "--shop", "Dunmarrow Works")
    told = buildlog("verify", tmp_path / "car")
    assert told.status == 3
    assert "nothing is recorded in this ledger yet" in told.out
    program, *arguments = last(told.out)
    assert program == "buildlog"
    assert buildlog(*arguments).status == 0
    assert buildlog("verify", tmp_path / "car").status in {0, 1}


def test_a_package_goes_on_to_the_next_owners_ledger(
    demo_copy: Path, tmp_path: Path, buildlog: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    buildlog("handover", "given", "--no-pdf", "--ledger", demo_copy)
    told = buildlog("verify", "given.zip")
    program, *arguments = last(told.out)
    assert program == "buildlog"
    assert buildlog(*arguments).status == 0
    assert (tmp_path / "my-car" / "car.toml").exists()
    assert last(buildlog("verify", "given.zip").out)[-1] == "my-car-2"


def test_a_damaged_one_asks_for_a_copy(demo_copy: Path, buildlog: Call) -> None:
    loosen(demo_copy)
    for file in (demo_copy / ".git/objects").glob("??/*"):
        file.chmod(0o644)
        file.write_bytes(b"\0" * 40)
    told = buildlog("verify", demo_copy)
    assert told.status == 5
    assert told.out.rstrip().endswith("go on with one that is good")
