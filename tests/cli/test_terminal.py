"""What reaches the terminal: nothing it would obey, no colour, plain when piped."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import unicodedata
from pathlib import Path

import pytest

from tests.conftest import ROOT, Call
from tests.histories import START, git, history, put, record

OBEYED = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
# As a foreign hand may have written them with plain git, past every check of ours.
NASTY = "x\x1b[31m\x1b]0;t\x07\x9b2J\u202e\u200b"
CAR = 'format = 1\n\n[car]\nname = "Marrow Tern"\n\n[engine]\nbore = "84.0 mm"\n'


def obeyed(text: str) -> set[str]:
    return {c for c in text if unicodedata.category(c) in OBEYED and c != "\n"}


@pytest.fixture
def foreign(tmp_path: Path) -> Path:
    """A ledger into which plain git brought control characters wherever it can."""
    folder = tmp_path / "car"
    with history(folder, [put("car.toml", CAR), record("intake", kind="found")]):
        pass
    escaped = NASTY.encode("unicode_escape").decode().replace("\\x", "\\u00")
    nasty = CAR.replace("Marrow Tern", f"Tern {escaped}") + f'code = "{escaped}"\n'
    nasty += f'\n[[work]]\nitem = "seats {escaped}"\nnote = "{escaped}"\n'
    (folder / "car.toml").write_text(nasty)
    git(folder, "add", "car.toml")
    message = f"subject {NASTY}\n\nnotes {NASTY}\n\nDone-by: {NASTY}\nStage: nasty{NASTY}\n"
    git(folder, "commit", "-q", "-F", "-", when=START, given=message.encode())
    return folder


@pytest.mark.parametrize(
    "arguments",
    [
        ["history"],
        ["history", "--full"],
        ["history", "--json"],
        ["show"],
        ["show", "--full"],
        ["show", "--json"],
        ["show", "--at", "engine.code"],
        ["diff", "1", "2"],
        ["diff", "1", "2", "--full"],
        ["diff", "1", "2", "--json"],
        ["verify"],
        ["check"],
        ["record", "-m", f"again {NASTY}"],
        ["set", f"engine.code={NASTY}"],
        ["show", NASTY],
        ["diff", NASTY],
    ],
    ids=ascii,
)
def test_control_characters_never_reach_the_terminal(
    arguments: list[str], foreign: Path, buildlog: Call
) -> None:
    outcome = buildlog(*arguments, at=foreign)
    assert obeyed(outcome.out + outcome.err) == set()
    assert outcome.status != 70


FREE = ["--message", "--notes", "--done-by", "--approved-by", "--odometer-note", "--stage"]


@pytest.mark.parametrize("option", FREE)
def test_free_text_with_control_characters_is_refused_or_shown_plain(
    option: str, demo_copy: Path, buildlog: Call
) -> None:
    buildlog("set", "engine.bore=84.5 mm", at=demo_copy)
    options = {"--message": "x", "--date": "2026-07-01"} | {option: f"a {NASTY} b"}
    flat = [word for pair in options.items() for word in pair]
    outcome = buildlog("record", *flat, at=demo_copy)
    assert outcome.status in {0, 2, 4}
    assert obeyed(outcome.out + outcome.err) == set()
    shown = buildlog("history", "--full", at=demo_copy)
    assert obeyed(shown.out) == set()
    assert shown.status == 0


@pytest.mark.parametrize("extra", [{}, {"NO_COLOR": "1"}, {"FORCE_COLOR": "1"}])
@pytest.mark.parametrize("command", [["history"], ["diff", "1", "2"], ["show"], ["--help"]])
@pytest.mark.one_in(4)
def test_piped_output_is_plain(command: list[str], extra: dict[str, str], demo: Path) -> None:
    ledger = [] if command == ["--help"] else ["--ledger", str(demo)]
    done = subprocess.run(
        [sys.executable, "-m", "buildlog", *command, *ledger],
        capture_output=True, text=True, check=True, cwd=ROOT, env=os.environ | extra,
    )  # fmt: skip
    assert obeyed(done.stdout + done.stderr) == set()


def test_json_is_ascii_and_one_document(demo: Path, buildlog: Call) -> None:
    for arguments in (["history"], ["show"], ["diff", "stage-1", "stage-2"], ["verify"]):
        out = buildlog(*arguments, "--json", "--ledger", demo).out
        assert out.isascii()
        body = json.loads(out)
        assert next(iter(body)) == "format"
        assert body["format"] == f"buildlog/{arguments[0]}/1"


def test_a_reader_that_leaves_early_is_no_error(demo: Path) -> None:
    show = f"{sys.executable} -m buildlog show --full --ledger '{demo}'"
    code = f"{show} | head -1; echo ${{PIPESTATUS[0]}}"
    done = subprocess.run(
        ["bash", "-c", code], capture_output=True, text=True, check=True, cwd=ROOT
    )
    assert done.stdout.splitlines()[-1] in {"0", "141"}
    assert "Traceback" not in done.stderr
