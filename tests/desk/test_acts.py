"""Every act without the command line: the same files, told in its result, nothing printed."""

from __future__ import annotations

import ast
import shlex
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from buildlog.analysis.car.written import Written
from buildlog.desk.acts.attachments import attach
from buildlog.desk.acts.car_fields import add_work, set_fields
from buildlog.desk.acts.new_car import NewCar, start
from buildlog.desk.snapshot import opening
from buildlog.errors import BuildlogError, ChangedUnderYou, UsageError
from buildlog.store.ledger.ledger import Ledger
from tests.conftest import ROOT, Call

PACKAGE = ROOT / "buildlog"
Act = Callable[[Ledger], Written]


@dataclass(frozen=True)
class Both:
    """What is typed, and the same act asked of the library."""

    typed: str
    act: Act


ACTS: dict[str, Both] = {
    "field": Both(
        "set exhaust.pipe_diameter='63.5 mm' calibration.id=T26-005",
        lambda car: set_fields(car, ["exhaust.pipe_diameter=63.5 mm", "calibration.id=T26-005"]),
    ),
    "work": Both(
        "work add seats --note 're-covered'", lambda car: add_work(car, "seats", "re-covered")
    ),
    "attachment": Both(
        "attach car.toml --folder notes",
        lambda car: attach(car, [car.folder / "car.toml"], "notes"),
    ),
}


def files(folder: Path) -> dict[str, bytes]:
    """The working files of a ledger."""
    found = {path.relative_to(folder).as_posix(): path for path in folder.rglob("*")}
    return {
        name: path.read_bytes()
        for name, path in found.items()
        if path.is_file() and not name.startswith(".git/")
    }


@pytest.mark.parametrize("name", ACTS)
def test_an_act_writes_what_its_command_writes(
    name: str, demo_copy: Path, buildlog: Call, capsys: pytest.CaptureFixture[str]
) -> None:
    other = Path(shutil.copytree(demo_copy, demo_copy.with_name("other")))
    before = files(other)
    told = buildlog(*shlex.split(ACTS[name].typed), at=demo_copy)
    assert told.status == 0, told.err
    with opening.ledger(other) as ledger:
        done = ACTS[name].act(ledger)
    assert capsys.readouterr() == ("", "")
    after = files(other)
    assert after == files(demo_copy)
    assert set(done.paths) == {path for path in after if after[path] != before.get(path)}
    assert told.out.endswith(f"next: {done.record.line}\n")
    said = " ".join(told.out.split())
    assert all(" ".join(finding.text.split()) in said for finding in done.findings)


def test_a_ledger_is_begun_without_anybody_to_ask(tmp_path: Path) -> None:
    with pytest.raises(UsageError):
        start(tmp_path / "car", NewCar())
    assert not (tmp_path / "car").exists()
    made = start(tmp_path / "car", NewCar(), ask=lambda car: NewCar("Tern", 1994), units="us")
    assert b'name = "Tern"\nyear = 1994' in made.read_bytes()
    assert opening.ledger(made.parent).entries() == []


def test_a_refused_act_changes_nothing(demo_copy: Path) -> None:
    before = files(demo_copy)
    with opening.ledger(demo_copy) as car:
        for act in (
            lambda: set_fields(car, ["engine.boer=1 mm"]),
            lambda: add_work(car, ""),
            lambda: attach(car, [demo_copy / "car.toml"], ".."),
        ):
            with pytest.raises(BuildlogError):
                act()
    assert files(demo_copy) == before


def test_a_file_changed_between_reading_and_writing_is_not_overwritten(demo_copy: Path) -> None:
    from buildlog.desk.acts import working_files

    def edit(data: bytes) -> bytes:
        (demo_copy / "car.toml").write_bytes(data + b"# theirs\n")
        return data + b"# ours\n"

    with opening.ledger(demo_copy) as car, pytest.raises(ChangedUnderYou):
        working_files.change(car, "car.toml", edit)
    assert (demo_copy / "car.toml").read_bytes().endswith(b"# theirs\n")


def calls(path: Path) -> Iterator[str]:
    """The last name of everything that a file calls."""
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Call):
            yield getattr(node.func, "attr", getattr(node.func, "id", ""))


@pytest.mark.parametrize("path", sorted((PACKAGE / "desk").rglob("*.py")), ids=lambda p: p.name)
def test_the_desk_has_no_terminal(path: Path) -> None:
    """It neither prints nor asks: whom to ask comes in as a callback."""
    text = path.read_text("utf-8")
    assert not {"print", "input", "getpass", "isatty"} & set(calls(path))
    assert not [word for word in ("sys.stdin", "sys.stdout", "sys.stderr") if word in text]
