"""Nothing that a terminal would obey is ever printed: every field, every command, every way out.

The fields are found by walking the models, the commands by walking the command line. What is
planted was never let in by this program: it stands in a ledger as plain git or another hand
would have put it there. `guarded` leaves the program's own refusals in place; `unguarded` takes
out the check that refuses such text in a record, so that the output alone has to hold.
"""

from __future__ import annotations

import copy
import json
import os
import re
import shutil
import tomllib
import typing
import unicodedata
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import click
import pytest
import tomlkit
from pydantic import BaseModel, ValidationError

from buildlog.cli.main import cli
from buildlog.desk.snapshot import opening
from buildlog.desk.snapshot.kept_open import KeptOpen
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.records.car.configuration import Configuration
from buildlog.records.car.due import Service
from buildlog.records.checks import Check, Checklist
from buildlog.records.custody import Custody
from buildlog.records.day_notes import OdometerReading, Waiting
from buildlog.records.fasteners import Joint, JointSheet
from buildlog.records.faults import Fault
from buildlog.records.fields import base
from buildlog.records.keys import KeyRegister
from buildlog.records.outside import OutsideFile
from buildlog.records.session import Session
from tests.conftest import Call
from tests.histories import START, git
from tests.terminal import screen_of

OBEYED = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
# ESC, BEL, CR, BS, DEL, two C1 controls, bidi override and isolate, zero width, line separators
NASTY = "\x1b[31m\x1b]0;t\x07\r\b\x7f\x9b2J\x85\u202e\u2066\u200b\u2028\u2029\ufeff"
NASTY_NAME = "x\x1b[2J\u202e\u200b\x9by"  # no slash, NUL or newline: git lets it into a tree
FOLDERS: dict[str, type[BaseModel]] = {
    "car.toml": Configuration, "dyno/*/session.toml": Session, "checks/*.toml": Check,
    "torque/*.toml": Joint, "torque/*.sheet.toml": JointSheet, "faults/*.toml": Fault,
    "lists/*.toml": Checklist,
    "handover/*.toml": Custody, "readings/*.toml": OdometerReading, "waiting/*.toml": Waiting,
    "due/*.toml": Service, "keys/register.toml": KeyRegister,
    "attachments/*.outside.toml": OutsideFile,
}  # fmt: skip
# Texts that decide how a pull is read: with anything behind them there is no result to print.
DECIDING = {"standard_applied", "unit", "name", "file", "calibration"}
ABSENT = {"nitrous", "charge_injection", "motor", "battery"}  # nothing is predicted with them
SHEET = """\
format = 1
title = "head"
date = 2026-06-09
[[fastened]]
name = "cap"
count = 2
stages = ["20 N*m"]
angle = "90 deg"
[[fastened.done]]
stage = 1
value = "20 N*m"
"""
LIST = """\
format = 1
name = "own"
title = "Own list"

[[item]]
key = "one"
text = "look at it"
"""
CUSTODY = 'format = 1\nrole = "given"\ndate = 2026-06-10\nholder = "Dunmarrow Works"\n'
READING = 'format = 1\ndate = 2026-06-10\nodometer = "89700 mi"\n'
WAITING = 'format = 1\nstate = "waiting"\ndate = 2026-06-10\nwaits_for = "part"\nwhat = "gasket"\n'
DONE = 'format = 1\nwhat = "oil"\ndate = 2026-06-10\nodometer = "89700 mi"\n'
KEYS = f"""format = 1
[[event]]
kind = "add"
key = "ssh-ed25519 {"A" * 68}"
name = "bench"
"""
OUTSIDE = f'''format = 1
file = "long.csv"
sha256 = "{"a" * 64}"
size = 26000000
date = 2026-06-10
'''


# --- the fields ---------------------------------------------------------------------------


def is_free(kind: Any) -> bool:
    """Whether a type is text that a person writes as he likes (Text and Note of records)."""
    held = [getattr(one, "func", None) for one in getattr(kind, "__metadata__", ())]
    return any(getattr(one, "__qualname__", "").startswith("clean_text") for one in held)


def parts(kind: Any) -> Iterator[Any]:
    """A type and everything it is made of."""
    yield kind
    for inner in typing.get_args(kind):
        yield from parts(inner)


def fields(model: type[BaseModel], seen: tuple[type, ...] = ()) -> Iterator[tuple[str, ...]]:
    """The path of every free-text field of a record, its tables included."""
    if model in seen:
        return
    hints = typing.get_type_hints(model, include_extras=True)
    for name, field in model.model_fields.items():
        key = field.alias or name
        for kind in parts(hints[name]):
            if is_free(kind):
                yield (key,)
                break
        for kind in parts(hints[name]):
            if isinstance(kind, type) and issubclass(kind, BaseModel):
                for path in fields(kind, (*seen, model)):
                    yield (key, *path)


def plant(values: dict[str, Any], path: tuple[str, ...], text: str) -> bool:
    """Put text behind what a field holds, in the first table that has it; make it if need be."""
    key, *rest = path
    if rest:
        below = values.get(key)
        if isinstance(below, list):
            return any(isinstance(one, dict) and plant(one, tuple(rest), text) for one in below)
        if below is None:
            below = values[key] = {}
        return isinstance(below, dict) and plant(below, tuple(rest), text)
    old = values.get(key)
    if isinstance(old, list):
        values[key] = [*old, text]
    else:
        values[key] = f"{old or 'x'}{text}"
    return True


ALL = [(glob, path) for glob, model in FOLDERS.items() for path in sorted(set(fields(model)))]


def test_the_walk_over_the_models_finds_the_fields() -> None:
    names = {".".join(path) for _, path in ALL}
    assert len(ALL) > 150
    for known in ("car.name", "engine.part.maker", "work.note", "item.text", "symptom", "tool",
                  "pull.note", "holder", "dyno.id", "column.name"):  # fmt: skip
        assert known in names


# --- the commands -------------------------------------------------------------------------

ARGUMENTS: dict[str, list[list[str]]] = {
    "history": [[], ["--full"]],
    "show": [[], ["--full"], ["--parts"], ["stage-1"]],
    "diff": [[], ["stage-1", "latest"], ["first", "latest", "--full"]],
    "set": [["engine.bore=84.5 mm"]],
    "record": [["-m", "x", "--dry-run"], ["-m", "x"]],
    "dyno sheet": [[], ["baseline"]],
    "dyno compare": [["baseline", "latest"]],
    "dyno add": [["dyno/2026-02-11-baseline/pull-1.csv"]],
    "predict": [[], ["stage-1", "latest"]],
    "plan new": [["quiet"]],
    "plan show": [["big"]],
    "plan set": [["big", "note=x"]],
    "plan compare": [["big"]],
    "plan adopt": [["big"]],
    "plan drop": [["big"]],
    "explain": [[], ["margin"]],
    "plot": [["--out", "p.svg"]],
    "checklist show": [["intake"], ["own"]],
    "checklist start": [["own"]],
    "checklist tick": [["own", "one", "--result", "pass"]],
    "discard": [["--all"], ["nothing"], ["--back"]],
    "torque add": [["headers"]],
    "torque sheet": [["../sheet.csv"]],
    "torque do": [["own", "--joint", "1"], ["own", "--joint", "nothing"]],
    "torque show": [["own"]],
    "fault add": [["squeals"]],
    "fault close": [["charge"], ["nothing"]],
    "work add": [["respray"]],
    "key compromised": [["bench"]],
    "key retire": [["bench"]],
    "attach": [["car.toml"]],
    "report": [["stage-1"]],
    "handover": [["../given", "--no-pdf", "--dry-run"], ["../given", "--no-pdf"]],
    "receive": [["../given", "../got"]],
    "shop list": [[".."], ["--csv", ".."]],
    "sync": [["../copy", "--dry-run"]],
    "schema": [["car"]],
    "completion": [["bash"]],
    "demo": [["../other"]],
    "new": [["../fresh", "--name", "x"]],
}


def commands(group: click.Group, before: str = "") -> Iterator[tuple[str, click.Command]]:
    """Every command of the program by its whole name."""
    context = click.Context(group)
    for name in group.list_commands(context):
        found = group.get_command(context, name)
        assert found is not None
        if isinstance(found, click.Group):
            yield from commands(found, f"{before}{name} ")
        else:
            yield before + name, found


def calls() -> list[list[str]]:
    """Every command with arguments that let it say much, as text and as JSON."""
    found = []
    for name, command in commands(cli):
        if name == "serve":  # it answers a browser until Ctrl-C: tests/page looks at what it says
            continue
        has_json = any("--json" in option.opts for option in command.params)
        for arguments in ARGUMENTS.get(name, [[]]):
            found.append([*name.split(), *arguments])
            if has_json:
                found.append([*name.split(), *arguments, "--json"])
    return found


CALLS = calls()
LONG = {"demo", "new", "handover", "receive"}  # they make a ledger or a whole package
ONE_EACH = list(
    {
        tuple(word for word in call if word.isalpha())[:2]: call
        for call in CALLS
        if call[0] not in LONG
    }.values()
)
pytestmark = pytest.mark.filterwarnings("ignore:constrained_layout not applied")  # long names
LOUD = [["history", "--full"], ["show", "--full"], ["diff", "first", "latest"], ["verify"],
        ["check"], ["next"], ["dyno", "sheet"], ["checklist", "list"]]  # fmt: skip


# --- planting -----------------------------------------------------------------------------


def foreign(demo: Path, place: Path) -> Path:
    """The demo's ledger with the kinds of file it does not hold, recorded by plain git."""
    folder = Path(shutil.copytree(demo, place / "car"))
    (place / "sheet.csv").write_text(f"joint,torque\ncap{NASTY},20 N*m\n", "utf-8")
    for name, text in (
        ("lists/own.toml", LIST), ("handover/1.toml", CUSTODY), ("torque/own.sheet.toml", SHEET),
        ("readings/1.toml", READING), ("waiting/1.toml", WAITING), ("due/1.toml", DONE),
        ("keys/register.toml", KEYS), ("attachments/long.csv.outside.toml", OUTSIDE),
    ):  # fmt: skip
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_text(text)
    commit(folder)
    git(folder, "switch", "-q", "-c", "plan/big")
    (folder / "plan.toml").write_text(f"format = 1\nnote = {json.dumps(NASTY)}\n")
    commit(folder)
    git(folder, "switch", "-q", "main")
    shutil.copytree(folder, place / "copy")
    return folder


def commit(folder: Path, message: str = "x\n") -> None:
    git(folder, "add", "-A", "-f")
    git(folder, "commit", "-q", "--allow-empty", "-F", "-", when=START, given=message.encode())


def is_valid(glob: str, values: dict[str, Any]) -> bool:
    try:
        FOLDERS[glob].model_validate(values)
    except ValidationError:
        return False
    return True


def into_fields(
    folder: Path, chosen: list[tuple[str, tuple[str, ...]]], *, valid: bool = False
) -> int:
    """Plant in these fields, in every file that can hold them; how many fields took it.

    `valid`: only where the record stays one that is read, so that commands go on to print it.
    """
    taken = 0
    for glob in {glob for glob, _ in chosen}:
        done: set[tuple[str, ...]] = set()
        sheets = glob.endswith(".sheet.toml")
        paths = (p for p in folder.glob(glob) if p.name.endswith(".sheet.toml") == sheets)
        for path in sorted(paths):
            values = tomllib.loads(path.read_text("utf-8"))
            for field in [field for one, field in chosen if one == glob]:
                trial = copy.deepcopy(values)
                fits = plant(trial, field, NASTY) and (not valid or is_valid(glob, trial))
                if fits:
                    values = trial
                    done.add(field)
            path.write_text(tomlkit.dumps(values), "utf-8")
        taken += len(done)
    return taken


def everywhere(folder: Path) -> None:
    commit_words(folder)
    said = [one for one in ALL if one[1][-1] not in DECIDING and one[1][0] not in ABSENT]
    into_fields(folder, said, valid=True)
    commit(folder)


def commit_words(folder: Path) -> None:
    keys = ("Entry-kind", "Stage", "Odometer", "Odometer-note", "Work-date", "Done-by",
            "Approved-by", "Corrects", "Resolves", "Changed", "Measured",
            "Session-configuration", "Ledger-nonce")  # fmt: skip
    trailers = "".join(f"{key}: x{NASTY.replace(chr(13), '')}\n" for key in keys)
    text = f"subject {NASTY}\n\nnotes {NASTY}\n\n{trailers}".encode()
    tree = git(folder, "rev-parse", "main^{tree}").strip().encode()
    parent = git(folder, "rev-parse", "main").strip().encode()
    who = f"A {NASTY} <a{NASTY}@example.invalid> 1769000000 +0000".encode()
    raw = b"\n".join([b"tree " + tree, b"parent " + parent, b"author " + who,
                      b"committer " + who, b"", text])  # fmt: skip
    made = git(folder, "hash-object", "-t", "commit", "-w", "--literally", "--stdin", given=raw)
    git(folder, "update-ref", "refs/heads/main", made.strip())


def file_names(folder: Path) -> None:
    session = folder / "dyno" / NASTY_NAME
    shutil.copytree(next((folder / "dyno").glob("*-baseline")), session)
    (session / "pull-1.csv").rename(session / f"{NASTY_NAME}.csv")
    for name in (f"attachments/{NASTY_NAME}.bin", f"{NASTY_NAME}.txt"):
        (folder / name).write_text("x")
    for kind in ("checks", "torque", "faults", "lists"):
        first = next((folder / kind).glob("*.toml"))
        shutil.copy(first, folder / kind / f"2026-06-09-{NASTY_NAME}.toml")
    commit(folder)


def names_of_tags_and_branches(folder: Path) -> None:
    tip = git(folder, "rev-parse", "main").strip()
    lines = "".join(
        f"{tip} {prefix}{NASTY_NAME}\n"
        for prefix in ("refs/heads/", "refs/heads/plan/", "refs/tags/stage/", "refs/tags/handover/")
    )
    with (folder / ".git/packed-refs").open("a", encoding="utf-8") as file:
        file.write(lines)
    for prefix in ("heads/plan", "tags/stage", "tags/handover"):
        (folder / ".git/refs" / prefix).mkdir(parents=True, exist_ok=True)
        (folder / ".git/refs" / prefix / f"z{NASTY_NAME}").write_text(tip + "\n")
    with (folder / ".git/config").open("a", encoding="utf-8") as file:
        file.write(f'[remote "{NASTY_NAME}"]\n\turl = {NASTY_NAME}\n[alias]\n\tx = {NASTY_NAME}\n')


def raw_columns(folder: Path) -> None:
    """The head of each raw file, and with it the column's name in the session."""
    for path in sorted(folder.glob("dyno/*/*.csv")):
        data = path.read_bytes()
        path.write_bytes(data.replace(b"[", NASTY.replace("\r", "").encode() + b"[", 1))
    commit(folder)


def not_toml(folder: Path) -> None:
    for glob in FOLDERS:
        for path in sorted(folder.glob(glob))[:1]:
            path.write_bytes(path.read_bytes() + f"\n{NASTY} = \x1b\n".encode() + b"\x9b\xff")
    commit(folder)


Plant = Callable[[Path], object]
PLANTED: dict[str, Plant] = {
    "everywhere": everywhere,
    "commits": commit_words,
    "file names": file_names,
    "references": names_of_tags_and_branches,
    "raw columns": raw_columns,
    "sessions": lambda folder: (
        into_fields(folder, [one for one in ALL if one[0] == "dyno/*/session.toml"]),
        commit(folder),
    ),
    "no toml": not_toml,
}


@pytest.fixture
def unguarded(monkeypatch: pytest.MonkeyPatch) -> None:
    """Records let such text through, as if the check at the input had a hole."""
    monkeypatch.setattr(base, "hidden", lambda text, allow="": None)


def obeyed(text: str) -> set[str]:
    return {c for c in text if unicodedata.category(c) in OBEYED and c != "\n"}


def says_nothing_obeyed(call: list[str], folder: Path, buildlog: Call) -> int:
    """One call: nothing that a terminal obeys, no failure of the program's own; its status."""
    done = buildlog(*call, at=folder)
    out = done.out.replace("\r\n", "\n") if "--csv" in call else done.out  # RFC 4180's line ends
    found = obeyed(out + done.err)
    assert not found, (call, found, done.out[:2000] + done.err[:2000])
    assert done.status != 70, (call, done.err)
    if "--json" in call and done.out:
        assert done.out.isascii()
        json.loads(done.out)
    return done.status


def run_all(calls_: list[list[str]], folder: Path, buildlog: Call) -> int:
    """Each call on a copy of its own, where nothing is left of the calls before it."""
    wrong = []
    for number, call in enumerate(calls_):
        place = folder.parent / f"run-{number}"
        shutil.copytree(folder, place / "car")
        shutil.copytree(folder.parent / "copy", place / "copy")
        try:
            says_nothing_obeyed(call, place / "car", buildlog)
        except AssertionError as error:
            wrong.append(str(error)[:1500])
        shutil.rmtree(place)
    assert not wrong, "\n".join(wrong)
    return len(calls_)


@pytest.mark.usefixtures("unguarded")
@pytest.mark.long
def test_every_command_on_a_ledger_full_of_it(demo: Path, tmp_path: Path, buildlog: Call) -> None:
    folder = foreign(demo, tmp_path)
    everywhere(folder)
    assert run_all(ONE_EACH, folder, buildlog) > 40


@pytest.mark.parametrize("what", PLANTED)
@pytest.mark.one_in(7)
def test_loud_commands_and_each_place(
    what: str, demo: Path, tmp_path: Path, buildlog: Call
) -> None:
    folder = foreign(demo, tmp_path)
    PLANTED[what](folder)
    for call in LOUD:
        says_nothing_obeyed(call, folder, buildlog)


@pytest.mark.long
@pytest.mark.usefixtures("unguarded")
@pytest.mark.parametrize("what", PLANTED)
def test_every_command_and_each_place(
    what: str, demo: Path, tmp_path: Path, buildlog: Call
) -> None:
    folder = foreign(demo, tmp_path)
    PLANTED[what](folder)
    run_all(CALLS, folder, buildlog)


LOOKING = {"history", "show", "diff", "verify", "check", "next", "margins", "headroom", "predict",
           "report", "dyno sheet", "dyno compare", "dyno relate", "checklist show",
           "checklist list", "torque list", "torque show", "fault list", "plan show", "plan list",
           "plan compare", "due list", "key list"}  # fmt: skip
LOOKS = [call for call in CALLS if call[0] in LOOKING or " ".join(call[:2]) in LOOKING]
# A part's maker is one field, whatever part it is of.
EACH = list({(glob, path[-2:]): (glob, path) for glob, path in ALL}.values())


@pytest.fixture(scope="module")
def planted(
    demo: Path, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[Path, KeptOpen]]:
    """One ledger in which a field at a time is planted, kept open between questions."""
    kept = KeptOpen()
    yield foreign(demo, tmp_path_factory.mktemp("planted")), kept
    kept.close()


@pytest.mark.long
@pytest.mark.usefixtures("unguarded")
@pytest.mark.parametrize(("glob", "path"), EACH, ids=str)
def test_every_field_by_itself_and_every_reading_command(
    glob: str, path: tuple[str, ...], planted: tuple[Path, KeptOpen], buildlog: Call,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    """What commands ask of a ledger is worked out once, as the page does; each prints it."""
    folder, kept = planted
    before = git(folder, "rev-parse", "main").strip()
    monkeypatch.setattr(opening, "snapshot", lambda _=None: kept.snapshot(folder))
    monkeypatch.setattr(Snapshot, "__exit__", lambda *_: None)
    try:
        assert into_fields(folder, [(glob, path)]) > 0
        commit(folder)
        for call in LOOKS:
            says_nothing_obeyed(call, folder, buildlog)
    finally:
        git(folder, "reset", "-q", "--hard", before)


# --- at a terminal ------------------------------------------------------------------------

AS_IF_LET_IN = """
import sys
from buildlog.records.fields import base
base.hidden = lambda text, allow="": None
from buildlog.cli.main import run
run(sys.argv[1:])
"""


def on_screen(call: list[str], folder: Path) -> str:
    """What a call writes to a pseudo-terminal; every question is answered by an empty line."""
    answers = iter([*["\n"] * 50, "\x03"])

    def answer(screen: str, quiet: bool) -> str | None:
        return next(answers, None) if quiet and screen and screen[-1] != "\n" else None

    screen = screen_of(folder, ["-c", AS_IF_LET_IN, *call], answer)
    # ^C is the terminal's own echo, \r\n its own line end, before which CSV has another (RFC 4180);
    # a progress bar hides the cursor at the line's begin, shows it again, and its label is a text
    # of the program's own.
    screen = re.sub(r"\r?\x1b\[\?25[lh]", "", screen)
    screen = re.sub(r"\x1b\[(?:0|1|3[456])m", "", screen)  # bold and the colours of its own words
    return re.sub(r"\r?\r\n", "\n", screen).replace("^C", "")


AT_TERMINAL = [["history", "--full"], ["diff", "first", "latest"], ["checklist", "tick", "own"]]


@pytest.mark.skipif(os.name == "nt", reason="there are no pseudo-terminals of this kind there")
@pytest.mark.parametrize("call", AT_TERMINAL, ids=" ".join)
@pytest.mark.one_in(3)
def test_at_a_terminal(call: list[str], demo: Path, tmp_path: Path) -> None:
    folder = foreign(demo, tmp_path)
    everywhere(folder)
    shown = on_screen(call, folder)
    assert shown.strip()
    assert obeyed(shown) == set(), shown[:2000]


@pytest.mark.long
@pytest.mark.skipif(os.name == "nt", reason="there are no pseudo-terminals of this kind there")
@pytest.mark.parametrize("what", ["everywhere", "commits", "references", "sessions"])
def test_every_command_at_a_terminal(what: str, demo: Path, tmp_path: Path) -> None:
    folder = foreign(demo, tmp_path)
    PLANTED[what](folder)
    for number, call in enumerate(call for call in CALLS if "--json" not in call):
        place = tmp_path / f"run-{number}"
        shutil.copytree(folder, place / "car")
        shutil.copytree(tmp_path / "copy", place / "copy")
        shown = on_screen(call, place / "car")
        assert obeyed(shown) == set(), (call, shown[:2000])
        shutil.rmtree(place)


WRONG = [
    [NASTY],
    ["history", f"--{NASTY}"],
    ["show", NASTY],
    ["plan", NASTY],
    ["diff", "--standard", NASTY],
    ["set", f"{NASTY}=1"],
    ["set", NASTY],
    ["--ledger", NASTY],
    ["verify", NASTY],
    ["sync", NASTY],
    ["receive", NASTY, NASTY],
    ["history", "--ledger", NASTY],
    ["show", "--units", NASTY],
    ["explain", NASTY],
    ["schema", NASTY],
    ["completion", NASTY],
    ["verify", "--paper", NASTY],
    ["verify", "--signers", NASTY],
    ["sync", "x", "--take", NASTY],
    ["plot", "--out", f"{NASTY}.svg"],
    ["new", NASTY, "--name", NASTY],
    ["fault", "add", NASTY],
    ["record", "-m", NASTY],
]


@pytest.mark.parametrize("call", WRONG, ids=ascii)
@pytest.mark.one_in(4)
def test_a_call_with_it_in_the_arguments(call: list[str], demo_copy: Path, buildlog: Call) -> None:
    says_nothing_obeyed(call, demo_copy, buildlog)
