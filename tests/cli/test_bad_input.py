"""Bad input: one clear error, the right exit status, nothing recorded, nothing lost."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.conftest import ROOT, Call, Outcome
from tests.histories import loosen

# Every command that reads a ledger, with arguments that would do on the demo.
READING: list[list[str]] = [
    ["history"],
    ["show"],
    ["show", "stage-1"],
    ["show", "--parts"],
    ["diff"],
    ["diff", "stage-1", "stage-2"],
    ["plot", "stage-1", "--out", "p.svg"],
    ["verify"],
    ["check"],
    ["next"],
]
WRITING: list[list[str]] = [
    ["set", "engine.bore=84.5 mm"],
    ["record", "-m", "x", "--date", "2026-07-01"],
    ["work", "add", "respray"],
    ["fault", "list"],
    ["torque", "list"],
    ["checklist", "list"],
]
BOTH = READING + WRITING
name = " ".join


def state(folder: Path) -> tuple[str, ...]:
    """Everything that is recorded: references and the working files' bytes."""
    git = subprocess.run(
        ["git", "-C", str(folder), "for-each-ref"], capture_output=True, text=True, check=False
    )
    return (git.stdout, *(
        f"{path.relative_to(folder)} {hash(path.read_bytes())}"
        for path in sorted(folder.rglob("*"))
        if path.is_file() and ".git" not in path.relative_to(folder).parts
    ))  # fmt: skip


def is_one_clear_error(outcome: Outcome, status: int) -> None:
    assert outcome.status == status, outcome.err or outcome.out
    said = outcome.err.strip()
    assert said
    assert "Traceback" not in said + outcome.out
    assert "buildlog itself failed" not in said
    assert len(said.splitlines()) <= 8


@pytest.mark.parametrize("arguments", BOTH, ids=name)
def test_not_a_ledger(arguments: list[str], tmp_path: Path, buildlog: Call) -> None:
    outcome = buildlog(*arguments, at=tmp_path)
    is_one_clear_error(outcome, 3)
    assert "is not in a ledger" in outcome.err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("arguments", BOTH, ids=name)
def test_a_folder_that_does_not_exist(arguments: list[str], tmp_path: Path, buildlog: Call) -> None:
    outcome = buildlog(*arguments, "--ledger", tmp_path / "gone", at=tmp_path)
    is_one_clear_error(outcome, 3)
    assert "does not exist" in outcome.err


@pytest.mark.parametrize("arguments", BOTH, ids=name)
def test_a_file_where_a_folder_should_be(
    arguments: list[str], tmp_path: Path, buildlog: Call
) -> None:
    (tmp_path / "file").write_text("x")
    is_one_clear_error(buildlog(*arguments, "--ledger", tmp_path / "file", at=tmp_path), 3)


VERSIONS = [
    ["show", "stage-9"],
    ["diff", "stage-1", "stage-9"],
    ["diff", "stage-9"],
    ["plot", "stage-9", "--out", "p.svg"],
    ["record", "-m", "x", "--corrects", "stage-9"],
    ["show", "999"],
    ["show", "0"],
    ["show", "-1"],
    ["show", "deadbeef"],
    ["show", "plan:none"],
    ["show", "stage-1\x1b[31m"],
    ["show", "../../etc"],
]


@pytest.mark.parametrize("arguments", VERSIONS, ids=ascii)
def test_an_unknown_version(arguments: list[str], demo_copy: Path, buildlog: Call) -> None:
    before = state(demo_copy)
    outcome = buildlog(*arguments, at=demo_copy)
    is_one_clear_error(outcome, 2 if "-1" in arguments else 3)
    assert "\x1b" not in outcome.err
    assert state(demo_copy) == before


def test_an_unknown_stage_names_the_nearest(demo: Path, buildlog: Call) -> None:
    outcome = buildlog("show", "stage2", "--ledger", demo)
    assert '"stage2" names no version' in outcome.err
    assert "stage-2" in outcome.err


CALLS = [
    (["histroy"], 'there is no command "histroy". Did you mean "history"?'),
    (["zzzz"], 'there is no command "zzzz"\n  do: buildlog --help'),
    (["diff", "--standart", "none"], "--standard"),
    (["history", "--jsn"], "--json"),
    (["show", "--asembly", "engine"], "--assembly"),
    (["show", "--assembly", "enigne"], "engine"),
    (["diff", "--units", "imperial"], "us"),
    (["set"], "missing argument"),
    (["set", "engine.bore"], "is not PATH=VALUE"),
    (["new"], "missing argument"),
    (["record"], "say in a few words what was done"),
    (["record", "-m", "x", "--kind", "biuld"], "build"),
    (["record", "-m", "x", "--date", "14.3.2026"], "2026"),
    (["completion"], "missing argument"),
    (["completion", "cmd"], "bash"),
    (["plot", "--what", "sound"], "torque"),
    (["plot", "--out", "history.jpg"], ".png"),
    (["diff", "a", "b", "c"], "unexpected extra argument"),
]


@pytest.mark.parametrize(("arguments", "said"), CALLS, ids=str)
def test_a_wrong_call(arguments: list[str], said: str, demo_copy: Path, buildlog: Call) -> None:
    before = state(demo_copy)
    outcome = buildlog(*arguments, at=demo_copy)
    is_one_clear_error(outcome, 2)
    assert said in outcome.err
    assert state(demo_copy) == before


VALUES = [
    ("engine.bore=90,2 mm", '"90,2 mm" is not a number and a unit', '"90.2 mm"'),
    ("engine.bore=84", '"84" needs a unit', '"84 mm"'),
    ("engine.bore=84 kg", "measures mass, not length", "mm"),
    ("engine.bore=3.3 mm", "is outside 20 mm to 300 mm", 'did you mean "3.3 in"?'),
    ("induction.boost.target_gauge=22 psia", "is an absolute pressure", "write a gauge pressure"),
    ("engine.compression_ratio=12.5:2", 'not "12.5:2"', ""),
    ("engine.boer=84 mm", "engine.boer is not a field", "engine.bore"),
    ("engine=84 mm", "engine is a table", "engine."),
    ("engine.cylinders=six", "plain number", ""),
    ("car.name=", "car.name is missing", ""),
    ("engine.note=a\x1b[31mb", "character", ""),
]


@pytest.mark.parametrize(("assignment", "what", "hint"), VALUES, ids=ascii)
def test_a_value_that_does_not_fit(
    assignment: str, what: str, hint: str, demo_copy: Path, buildlog: Call
) -> None:
    before = state(demo_copy)
    outcome = buildlog("set", assignment, at=demo_copy)
    is_one_clear_error(outcome, 4)
    assert what in outcome.err
    assert hint in outcome.err
    assert "\x1b" not in outcome.err
    assert state(demo_copy) == before


@pytest.mark.parametrize(
    "arguments",
    [["diff"], ["diff", "stage-1", "working"], ["show", "working"], ["set", "engine.stroke=80 mm"],
     ["record", "-m", "x"]],
    ids=name,
)  # fmt: skip
@pytest.mark.parametrize(
    ("line", "place"),
    [('bore = "84 mm', "line 4, column"), ('bore = "84,5 mm"', "line 4, column 8"),
     ("bore = 84", "line 4, column 8")],
)  # fmt: skip
def test_a_broken_car_toml_has_file_line_and_column(
    arguments: list[str], line: str, place: str, demo_copy: Path, buildlog: Call
) -> None:
    (demo_copy / "car.toml").write_text(f'format = 1\n\n[engine]\n{line}\n[car]\nname = "x"\n')
    before = state(demo_copy)
    outcome = buildlog(*arguments, at=demo_copy)
    is_one_clear_error(outcome, 4)
    assert "car.toml" in outcome.err
    assert place in outcome.err
    assert state(demo_copy) == before


def test_a_broken_working_car_toml_hides_nothing_recorded(demo_copy: Path, buildlog: Call) -> None:
    (demo_copy / "car.toml").write_text("[[[")
    for arguments in (["history"], ["show", "stage-1"], ["diff", "stage-1", "stage-2"], ["show"]):
        assert buildlog(*arguments, at=demo_copy).status == 0, arguments


def test_no_car_toml_at_all(demo_copy: Path, buildlog: Call) -> None:
    (demo_copy / "car.toml").unlink()
    is_one_clear_error(buildlog("record", "-m", "x", at=demo_copy), 3)


def add_session(folder: Path, raw: bytes | None, text: str | None = None) -> None:
    source = next((folder / "dyno").glob("*-baseline"))
    target = folder / "dyno" / "2026-07-01-again"
    shutil.copytree(source, target)
    if text is not None:
        (target / "session.toml").write_text(text)
    else:
        session = target / "session.toml"
        session.write_text(session.read_text().replace("date = 2026-02-11", "date = 2026-07-01"))
    for pull in target.glob("*.csv"):
        pull.unlink() if raw is None else pull.write_bytes(raw)


def test_a_session_whose_raw_file_is_missing_is_not_recorded(
    demo_copy: Path, buildlog: Call
) -> None:
    add_session(demo_copy, None)
    before = state(demo_copy)
    outcome = buildlog("record", "-m", "x", at=demo_copy)
    is_one_clear_error(outcome, 4)
    assert "the raw file dyno/2026-07-01-again/pull-1.csv is missing" in outcome.err
    assert state(demo_copy) == before


@pytest.mark.parametrize("raw", [b"", b"\n", b" \r\n\t"], ids=ascii)
def test_an_empty_raw_file_is_not_recorded(raw: bytes, demo_copy: Path, buildlog: Call) -> None:
    add_session(demo_copy, raw)
    before = state(demo_copy)
    outcome = buildlog("record", "-m", "x", "--date", "2026-07-01", at=demo_copy)
    is_one_clear_error(outcome, 4)
    assert "the raw file dyno/2026-07-01-again/pull-1.csv is empty" in outcome.err
    assert state(demo_copy) == before


@pytest.mark.parametrize("raw", [b"", b"\n", b"n,P\n", b"\x00\x01\x02", b"a;b;c\n1;2\n"], ids=ascii)
def test_a_raw_file_without_a_pull_in_it(raw: bytes, demo_copy: Path, buildlog: Call) -> None:
    """What cannot be worked out is said, with the pull it stands in."""
    add_session(demo_copy, raw)
    outcome = buildlog("diff", "stage-1", "working", at=demo_copy)
    assert outcome.status in {0, 4}
    assert "Traceback" not in outcome.err
    assert "pull" in outcome.out + outcome.err
    plotted = buildlog("plot", "working", "--out", "p.svg", at=demo_copy)
    assert plotted.status in {3, 4}
    assert "pull-1.csv" in plotted.err or "pull" in plotted.err


def test_a_broken_session_toml_has_its_place(demo_copy: Path, buildlog: Call) -> None:
    add_session(demo_copy, b"n,P\n", 'format = 1\ndate = 2026-07-01\ngear = "four"\n')
    before = state(demo_copy)
    outcome = buildlog("record", "-m", "x", at=demo_copy)
    is_one_clear_error(outcome, 4)
    assert "dyno/2026-07-01-again/session.toml, line 3, column 8" in outcome.err
    assert state(demo_copy) == before


RECORDS = [
    (["--stage", "stage-1"], "stage-1"),
    (["--stage", "a b"], "a b"),
    (["--stage", "working"], "working"),
    (["--odometer", "88412"], "88412"),
    (["--odometer", "1 mi", "--date", "2026-07-01"], "1 mi"),
    (["--date", "2020-01-01"], "2020"),
    (["--kind", "correction"], "correct"),
]


@pytest.mark.parametrize(("options", "said"), RECORDS, ids=str)
def test_facts_that_do_not_fit(
    options: list[str], said: str, demo_copy: Path, buildlog: Call
) -> None:
    buildlog("set", "engine.bore=84.5 mm", at=demo_copy)
    before = state(demo_copy)
    outcome = buildlog("record", "-m", "x", *options, at=demo_copy)
    is_one_clear_error(outcome, 4)
    assert said in outcome.err
    assert state(demo_copy) == before


def test_nothing_to_record(demo_copy: Path, buildlog: Call) -> None:
    before = state(demo_copy)
    outcome = buildlog("record", "-m", "x", at=demo_copy)
    is_one_clear_error(outcome, 4)
    assert state(demo_copy) == before


def test_new_does_not_touch_a_folder_that_is_in_use(tmp_path: Path, buildlog: Call) -> None:
    (tmp_path / "car").mkdir()
    (tmp_path / "car" / "note.txt").write_text("mine")
    is_one_clear_error(buildlog("new", tmp_path / "car", "--name", "x"), 4)
    is_one_clear_error(buildlog("demo", tmp_path / "car"), 4)
    assert [p.name for p in (tmp_path / "car").iterdir()] == ["note.txt"]


def test_new_from_a_file_that_is_missing_or_broken(tmp_path: Path, buildlog: Call) -> None:
    outcome = buildlog("new", tmp_path / "car", "--from", tmp_path / "gone.toml")
    is_one_clear_error(outcome, 3)
    (tmp_path / "bad.toml").write_text("format = 1\n[car]\nname = 3\n")
    outcome = buildlog("new", tmp_path / "car", "--from", tmp_path / "bad.toml")
    is_one_clear_error(outcome, 4)
    assert "bad.toml, line 3, column 8" in outcome.err
    assert not (tmp_path / "car").exists()


def test_new_without_a_name_and_without_a_terminal(tmp_path: Path, buildlog: Call) -> None:
    outcome = buildlog("new", tmp_path / "car")
    is_one_clear_error(outcome, 2)
    assert "the car has no name" in outcome.err


def test_an_unknown_standard(demo: Path, buildlog: Call) -> None:
    outcome = buildlog("diff", "stage-1", "stage-2", "--standard", "furlongs", "--ledger", demo)
    is_one_clear_error(outcome, 2)
    assert "furlongs" in outcome.err


def test_an_unknown_schema(buildlog: Call) -> None:
    outcome = buildlog("schema", "boat")
    is_one_clear_error(outcome, 3)
    assert "known: car, session" in outcome.err


def test_a_damaged_ledger(demo_copy: Path, buildlog: Call) -> None:
    """The newest commit's object is gone: 5, and not a word of success."""
    head = (demo_copy / ".git" / "refs" / "heads" / "main").read_text().strip()
    loosen(demo_copy)
    (demo_copy / ".git" / "objects" / head[:2] / head[2:]).unlink()
    for arguments in (["history"], ["show"], ["verify"], ["record", "-m", "x"]):
        outcome = buildlog(*arguments, at=demo_copy)
        assert outcome.status == 5, (arguments, outcome)
        assert "Traceback" not in outcome.err
        assert "recorded:" not in outcome.out


def test_settings_that_cannot_be_read(
    demo: Path, tmp_path: Path, buildlog: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "settings.toml").write_text("units = 3")
    monkeypatch.setenv("BUILDLOG_CONFIG", str(tmp_path / "settings.toml"))
    outcome = buildlog("diff", "stage-1", "stage-2", "--ledger", demo)
    is_one_clear_error(outcome, 4)
    assert "settings.toml" in outcome.err


# A read-only folder: root may write everywhere, so the commands run as another user then.

AS_OTHER = """
import contextlib, io, json, os, sys
from buildlog.cli.main import run
arguments, sealed, twin = json.loads(sys.argv[1])
if os.getuid() == 0:
    # The other user may not be able to read this Python: everything is loaded beforehand,
    # by the same command on a twin of the ledger.
    with contextlib.redirect_stdout(io.StringIO()), contextlib.suppress(SystemExit):
        run([argument.replace(sealed, twin) for argument in arguments])
    os.setgroups([]); os.setgid(65534); os.setuid(65534)
run(arguments)
"""


@pytest.fixture
def sealed(demo_copy: Path) -> Path:
    """A ledger whose folder cannot be written by whom the command runs as; a twin beside it."""
    with (demo_copy / "car.toml").open("a") as car:  # something to record
        car.write('\n[[work]]\nitem = "clock"\n')
    shutil.copytree(demo_copy, demo_copy.with_name("twin"))
    for path in [demo_copy, *demo_copy.rglob("*")]:
        path.chmod(0o555 if path.is_dir() else 0o444)
    for parent in demo_copy.parents:  # the other user has to get there
        if parent.stat().st_uid == os.getuid() and not parent.stat().st_mode & 0o001:
            parent.chmod(parent.stat().st_mode | 0o055)
    return demo_copy


def as_other(sealed: Path, *arguments: str) -> Outcome:
    twin = str(sealed.with_name("twin"))
    call = [[*arguments, "--ledger", str(sealed)], str(sealed), twin]
    done = subprocess.run(
        [sys.executable, "-c", AS_OTHER, json.dumps(call)],
        capture_output=True, text=True, check=False, cwd=ROOT,
        env=os.environ | {
            "BUILDLOG_CONFIG": str(sealed.with_name("settings.toml")),
            "BUILDLOG_CACHE": os.devnull,  # nothing kept: both runs go the same way
        },
    )  # fmt: skip
    return Outcome(done.returncode, done.stdout, done.stderr)


needs_users = pytest.mark.skipif(
    os.name == "nt", reason="users and permissions are of another kind there"
)


@needs_users
@pytest.mark.parametrize(
    "arguments", [["history"], ["show"], ["diff", "stage-1", "stage-2"], ["verify"]], ids=name
)
@pytest.mark.one_in(4)
def test_a_read_only_ledger_can_be_read(arguments: list[str], sealed: Path) -> None:
    outcome = as_other(sealed, *arguments)
    assert outcome.status in {0, 1}, outcome.err
    assert "Traceback" not in outcome.err


@needs_users
@pytest.mark.parametrize(
    "arguments",
    [["set", "engine.bore=84.5 mm"], ["record", "-m", "x"], ["work", "add", "respray"]],
    ids=name,
)
@pytest.mark.one_in(3)
def test_a_read_only_ledger_says_why_it_cannot_be_written(
    arguments: list[str], sealed: Path
) -> None:
    outcome = as_other(sealed, *arguments)
    is_one_clear_error(outcome, 7)
    assert "permission denied" in outcome.err.lower()


@needs_users
@pytest.mark.long
def test_a_picture_in_a_read_only_folder(sealed: Path) -> None:
    outcome = as_other(sealed, "plot", "stage-1", "--out", str(sealed / "p.svg"))
    is_one_clear_error(outcome, 7)


def test_a_full_disk(demo_copy: Path, buildlog: Call, monkeypatch: pytest.MonkeyPatch) -> None:
    import errno

    buildlog("set", "engine.bore=84.5 mm", at=demo_copy)
    before = state(demo_copy)

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", full)
        outcome = buildlog("record", "-m", "x", "--date", "2026-07-01", at=demo_copy)
    is_one_clear_error(outcome, 7)
    assert "no space left" in outcome.err.lower()
    assert state(demo_copy) == before
    assert buildlog("record", "-m", "x", "--date", "2026-07-01", at=demo_copy).status == 0


def test_set_can_mend_what_was_broken(demo_copy: Path, buildlog: Call) -> None:
    text = (demo_copy / "car.toml").read_text()
    (demo_copy / "car.toml").write_text(text.replace("\nbore = ", "\nbore = 84 # ", 1))
    is_one_clear_error(buildlog("set", "engine.stroke=80 mm", at=demo_copy), 4)
    outcome = buildlog("set", "engine.bore=84.0 mm", at=demo_copy)
    assert outcome.status == 0
    assert "was not valid before, and is now" in outcome.out
