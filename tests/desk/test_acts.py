"""Every act without the command line: the same files, told in its result, nothing printed."""

from __future__ import annotations

import ast
import datetime as dt
import shlex
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from buildlog.analysis.car.written import Written
from buildlog.desk.acts.attachments import attach
from buildlog.desk.acts.car_fields import add_work, set_fields
from buildlog.desk.acts.dyno.session_addition import SessionSaid, add_session
from buildlog.desk.acts.fault_acts import Tightening, add_joint, close_fault, open_fault
from buildlog.desk.acts.list_items import (
    CheckedItem,
    ItemAsked,
    ItemFound,
    ListWritten,
    begin,
    tick,
)
from buildlog.desk.acts.new_car import NewCar, start
from buildlog.desk.acts.plans_made import adopt_plan, drop_plan, new_plan, set_plan
from buildlog.desk.acts.record import EntrySaid, Outlook, record
from buildlog.desk.acts.torque_sheets import SheetSaid, add_sheet, tighten
from buildlog.desk.acts.walkround import go_round
from buildlog.desk.snapshot import opening
from buildlog.errors import BuildlogError, ChangedUnderYou, InvalidInput, NotFound, UsageError
from buildlog.report.lines import printed
from buildlog.store.ledger.ledger import Ledger
from tests.conftest import ROOT, Call

PACKAGE = ROOT / "buildlog"
Act = Callable[[Ledger], Written]


@dataclass(frozen=True)
class Both:
    """What is typed, and the same act asked of the library; `first` is typed on both sides."""

    typed: str
    act: Act
    first: tuple[str, ...] = ()


BOOST = "induction.boost.target_gauge"
ACTS: dict[str, Both] = {
    "field": Both(
        "set exhaust.pipe_diameter='63.5 mm' calibration.id=T26-005",
        lambda car: set_fields(car, ["exhaust.pipe_diameter=63.5 mm", "calibration.id=T26-005"]),
    ),
    "work": Both(
        "work add seats --note 're-covered'", lambda car: add_work(car, "seats", "re-covered")
    ),
    "work again": Both(
        "work add seats --note leather",
        lambda car: add_work(car, "seats", "leather"),
        ("work add seats --note 're-covered'",),
    ),
    "attachment": Both(
        "attach car.toml --folder notes",
        lambda car: attach(car, [car.folder / "car.toml"], "notes"),
    ),
    "fault": Both(
        "fault add 'belt squeals' --part induction.belt --code P0299 --by D-07 --no-hold",
        lambda car: open_fault(
            car, "belt squeals", part="induction.belt", codes=["P0299"], by="D-07", holds_up=False
        ),
    ),
    "fault closed": Both(
        "fault close squeals --remedy 'new belt' --date 2026-06-20",
        lambda car: close_fault(car, ask=lambda fault: "new belt", on=dt.date(2026, 6, 20)),
        ("fault add squeals",),
    ),
    "joint": Both(
        "torque add 'header flange' --count 2 --torque '32 N*m' --thread M8x1.25 --grade 8.8 "
        "--spec-high '24 N*m' --retorque-after '200 mi' --single-use --new",
        lambda car: add_joint(
            car,
            "header flange",
            [("1", "32 N*m"), ("2", "32 N*m")],
            Tightening(
                thread="M8x1.25", grade="8.8", spec_high="24 N*m", retorque_after="200 mi",
                single_use=True,
            ),
            new=True,
        ),
    ),
    "list": Both(
        "checklist start before-dyno --odometer '89900 mi' --note wet",
        lambda car: begin(car, "before-dyno", odometer="89900 mi", note="wet"),
    ),
    "item": Both(
        "checklist tick tyre-pressure --value '2.4 bar' --note cold --by D-07",
        lambda car: tick(
            car, "tyre-pressure", ItemFound(values=["2.4 bar"], note="cold"), by="D-07"
        ),
        ("checklist start before-dyno",),
    ),
    "torque sheet": Both(
        "torque sheet ../sheet.csv --source 'the maker' --by D-07",
        lambda car: add_sheet(
            car, car.folder.parent / "sheet.csv", SheetSaid(source="the maker", by="D-07")
        ),
    ),
    "stage": Both(
        "torque do sheet --joint cap --value '24 N*m' --how reading --by D-07",
        lambda car: tighten(car, "sheet", "cap", value="24 N*m", how="reading", by="D-07"),
        ("torque sheet ../sheet.csv",),
    ),
    "list gone on with": Both(
        "checklist tick fan --result done --list before-dyno --by D-07",
        lambda car: tick(car, "fan", ItemFound("pass"), name="before-dyno", by="D-07"),
        ("checklist start before-dyno", "checklist tick straps --result done", "record -m half"),
    ),
    "walk": Both(
        "check --found --answers ../answers.toml --by D-01 --odometer '90100 mi'",
        lambda car: go_round(
            car, car.folder.parent / "answers.toml", by="D-01", odometer="90100 mi"
        ),
    ),
    "plan adopted": Both(
        "plan adopt boost --take plan",
        lambda car: adopt_plan(car, "boost", lambda found: {one.path: "theirs" for one in found}),
        ("plan new boost", f"plan set boost {BOOST}='10 psi'", f"set {BOOST}='8 psi'"),
    ),
}  # fmt: skip
# What only ends a step that was begun, or needs no line that records it.
SILENT = {"list", "item", "torque sheet", "stage", "list gone on with"}


def files(folder: Path) -> dict[str, bytes]:
    """The working files of a ledger."""
    found = {path.relative_to(folder).as_posix(): path for path in folder.rglob("*")}
    return {
        name: path.read_bytes()
        for name, path in found.items()
        if path.is_file() and not name.startswith(".git/")
    }


@pytest.fixture
def answers(tmp_path: Path) -> None:
    """What somebody wrote down on the way around the car."""
    text = '[part]\nclutch = "as recorded"\n[set]\n"fuel.injectors.flow" = "440 cc/min"\n'
    (tmp_path / "answers.toml").write_text(text)
    (tmp_path / "sheet.csv").write_text("joint,count,torque\ncap,4,20 N*m + 90 deg\n")


@pytest.mark.usefixtures("answers")
@pytest.mark.parametrize("name", ACTS)
@pytest.mark.one_in(4)
def test_an_act_writes_what_its_command_writes(
    name: str, demo_copy: Path, buildlog: Call, capsys: pytest.CaptureFixture[str]
) -> None:
    for line in ACTS[name].first:
        assert buildlog(*shlex.split(line), at=demo_copy).status == 0
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
    if name not in SILENT:
        assert told.out.endswith(f"next: {done.record.line}\n")
    said = " ".join(told.out.split())
    assert all(" ".join(printed(finding.text).split()) in said for finding in done.findings)


class Answering:
    """A person with answers made up before; hears everything."""

    def __init__(self, *waiting: str | None) -> None:
        self.waiting = list(waiting)
        self.heard: list[tuple[str, str | None]] = []
        self.told: list[str] = []
        self.lists: list[str] = []

    def begun(self, written: ListWritten) -> None:
        self.lists.append(written.definition.name)

    def ask(self, one: ItemAsked, refused: BuildlogError | None) -> str | None:
        self.heard.append((one.item.key, refused.what if refused else None))
        return self.waiting.pop(0)

    def tell(self, item: CheckedItem) -> None:
        self.told.append(item.key)


def test_a_list_is_gone_through_with_whoever_answers(demo_copy: Path) -> None:
    """A wrong answer is asked for again with the error; "" is later, None stops."""
    first, later = Answering("p", "", "three", "n none here", None), Answering("f worn", None)
    with opening.ledger(demo_copy) as car:
        done = begin(car, "before-dyno", by="D-07", person=first)
        assert [key for key, _ in first.heard] == [
            "straps", "fan", "extraction", "extraction", "extinguisher",
        ]  # fmt: skip
        assert [why for _, why in first.heard if why] == ["this item has no value"]
        written = {item.key: item for item in done.check.item if item.result != "not-done"}
        assert list(written) == first.told == ["straps", "extraction"]
        assert written["extraction"].note == "none here"
        assert all(item.by == "D-07" for item in written.values())
        tick(car, by="D-07", person=later)
        with pytest.raises(UsageError, match="which item"):
            tick(car)
    assert first.lists == later.lists == ["before-dyno"]
    assert later.told == [later.heard[0][0]] == ["fan"]


def test_a_name_that_is_taken_meanwhile_is_left_to_who_took_it(demo_copy: Path) -> None:
    """Two write at once: the second looked for a free name before the first had written."""
    with opening.ledger(demo_copy) as one, opening.ledger(demo_copy) as other:
        looked = other.working()
        first = open_fault(one, "squeals", part="induction.belt")
        other.working = lambda: looked  # type: ignore[method-assign]
        second = open_fault(other, "slips", part="induction.belt")
        assert first.paths != second.paths
        assert b"squeals" in (demo_copy / first.paths[0]).read_bytes()
        assert b"slips" in (demo_copy / second.paths[0]).read_bytes()


def test_plans_are_made_edited_and_dropped(demo_copy: Path) -> None:
    before = files(demo_copy)
    with opening.ledger(demo_copy) as car:
        made = new_plan(car, "boost")
        assert (made.name, made.number) == ("boost", 16)
        changed = set_plan(car, "boost", [f"{BOOST}=10 psi", "price=300.00"]).changed
        assert [path for path, _, _ in changed] == [BOOST, "price"]
        assert set_plan(car, "boost", [f"{BOOST}=10 psi"]).changed == ()
        assert drop_plan(car, "boost").commit
        with pytest.raises(NotFound):
            drop_plan(car, "boost")
    assert files(demo_copy) == before


def test_what_nobody_decides_is_not_adopted(demo_copy: Path) -> None:
    with opening.ledger(demo_copy) as car:
        new_plan(car, "boost")
        set_plan(car, "boost", [f"{BOOST}=10 psi"])
        set_fields(car, [f"{BOOST}=8 psi"])
        before = files(demo_copy)
        with pytest.raises(UsageError, match=BOOST):
            adopt_plan(car, "boost", lambda found: {})
        assert (
            adopt_plan(car, "boost", lambda found: {one.path: "ours" for one in found}).paths == ()
        )
    assert files(demo_copy) == before


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


def test_an_entry_is_seen_before_it_is_recorded(demo_copy: Path) -> None:
    said = EntrySaid("wider pipe", odometer="89900 mi", corrects="stage-2", done_by="D-07")
    seen: list[tuple[Outlook, int]] = []
    with opening.ledger(demo_copy) as car:
        set_fields(car, ["exhaust.pipe_diameter=63.5 mm"])
        for dry_run in (True, False):
            done = record(
                car, said, dry_run=dry_run, shown=lambda o: seen.append((o, len(car.entries())))
            )
        entry = car.entries()[-1]
    assert [count for _, count in seen] == [16, 16]
    assert {(o.kind, o.subject, o.odometer) for o, _ in seen} == {
        ("correction", "wider pipe", "89900 mi")
    }
    assert done.entry is not None
    assert (done.entry.number, done.entry.id, done.entry.kind) == (17, entry.id, "correction")
    assert (entry.done_by, entry.corrects) == ("D-07", car.resolve("stage-2").entry.id)
    assert done.outlook.changes


def test_a_plan_is_no_entry_to_correct(demo_copy: Path) -> None:
    with opening.ledger(demo_copy) as car:
        new_plan(car, "boost")
        set_fields(car, ["exhaust.pipe_diameter=63.5 mm"])
        for name in ("plan:boost", "working"):
            with pytest.raises(UsageError, match="is not an entry"):
                record(car, EntrySaid("x", corrects=name))
        assert len(car.entries()) == 16


SAID = {
    "standard_applied": "none", "gear": "4", "dyno.id": "R2", "dyno.kind": "inertia",
    "odometer": "89900 mi", "date": "2026-06-09",
}  # fmt: skip


def shorter(ledger: Path, name: str = "run-1.csv") -> Path:
    """A raw file of the demo without its last rows, beside the ledger."""
    of = ledger / "dyno/2026-06-06-stage-2-recheck" / name
    place = ledger.parent / f"again-{name}"
    place.write_bytes(b"".join(of.read_bytes().splitlines(keepends=True)[:-3]))
    return place


def test_a_session_is_written_as_its_command_writes_it(
    demo_copy: Path, buildlog: Call, capsys: pytest.CaptureFixture[str]
) -> None:
    other = Path(shutil.copytree(demo_copy, demo_copy.with_name("other")))
    raw = [shorter(demo_copy, f"run-{number}.csv") for number in (1, 2)]
    told = buildlog(
        "dyno", "add", *raw, "--session", "again", "--standard-applied", "none", "--gear", "4",
        "--dyno", "R2", "--dyno-kind", "inertia", "--odometer", "89900 mi", "--date", "2026-06-09",
        "--calibration", "T26-004", at=demo_copy,
    )  # fmt: skip
    assert told.status == 0, told.err
    before = files(other)
    with opening.ledger(other) as car:
        done = add_session(car, raw, "again", SessionSaid(SAID, calibration="T26-004"))
    assert capsys.readouterr() == ("", "")
    after = files(other)
    assert after == files(demo_copy)
    assert set(done.paths) == after.keys() - before.keys()
    assert after[done.paths[0]] == raw[0].read_bytes()
    assert told.out.endswith(f"next: {done.record.line}\n")
    assert len(done.sheet.curves) == 2


def test_more_pulls_of_a_recorded_session_are_a_correction(demo_copy: Path) -> None:
    with opening.ledger(demo_copy) as car:
        done = add_session(car, [shorter(demo_copy)], "2026-06-06-stage-2-recheck", SessionSaid())
        assert (done.entry, done.record.kind, done.record.corrects) == (16, "correction", 16)
        recorded = record(
            car, EntrySaid("more pulls", kind="correction", corrects="16"), dry_run=True
        )
        assert recorded.entry is None
        assert recorded.outlook.changed == ("dyno/2026-06-06-stage-2-recheck/session.toml",)


def test_a_session_that_cannot_be_read_writes_nothing(demo_copy: Path) -> None:
    before = files(demo_copy)
    blind = demo_copy.parent / "blind.csv"
    blind.write_text("a,b\n" + "1,2\n" * 30)
    with opening.ledger(demo_copy) as car:
        for raw, name, said in (
            ([blind], "x", SessionSaid(SAID)),
            ([], "x", SessionSaid(SAID)),
            ([shorter(demo_copy)], None, SessionSaid(SAID)),
            ([shorter(demo_copy)] * 2, "x", SessionSaid(SAID)),
        ):
            with pytest.raises(BuildlogError):
                add_session(car, raw, name, said)
    assert files(demo_copy) == before


def test_a_condition_that_does_not_fit_is_told_before_anything_is_opened() -> None:
    with pytest.raises(InvalidInput, match="gear"):
        SessionSaid({**SAID, "gear": "wide"})
    with pytest.raises(UsageError):
        SessionSaid(stated=["power"])


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


DOORS = {"write_working", "write_session"}


def test_working_files_are_written_at_one_place() -> None:
    """Below the desk, where the writing itself is, the store may call its own."""
    writing = {
        path.relative_to(PACKAGE).as_posix()
        for path in PACKAGE.rglob("*.py")
        if DOORS & set(calls(path)) and "store" not in path.parts
    }
    assert writing == {"desk/acts/working_files.py"}


def test_only_acts_use_the_doors() -> None:
    doors = {"create", "change", "put_session", "take_out"}
    using = {
        path.relative_to(PACKAGE).parent.as_posix()
        for path in PACKAGE.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Attribute)
        and node.attr in doors
        and getattr(node.value, "id", "") == "working_files"
    }
    assert using == {"desk/acts", "desk/acts/dyno"}
