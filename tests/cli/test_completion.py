"""Names complete in the shells themselves: each is started, and asked what it would offer."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.conftest import Call

# What is typed, and what must be among the offers.
TYPED = {
    "buildlog his": {"history"},
    "buildlog diff stage-": {"stage-1", "stage-2", "stage-2-recheck"},
    "buildlog dyno sheet 2026-05": {"2026-05-09-stage-2"},
    "buildlog checklist start be": {"before-dyno"},
    "buildlog show --at clutch.rated": {"clutch.rated_torque"},
    "buildlog fault add --part induction.tu": {"induction.turbine"},
    "buildlog explain inj": {"injector duty"},
    "buildlog record --done-by D": {"D-07"},
}
BASH = """
source /dev/stdin <<< "$(buildlog completion bash 2>/dev/null)"
COMP_WORDS=({line}); [[ "{line}" == *" " ]] && COMP_WORDS+=("")
COMP_CWORD=$((${{#COMP_WORDS[@]}} - 1)); COMP_LINE="{line}"; COMP_POINT=${{#COMP_LINE}}
_buildlog_completion buildlog "${{COMP_WORDS[-1]}}"
printf '%s\\n' "${{COMPREPLY[@]}}"
"""
ZSH = """
autoload -Uz compinit; compinit -u -D
compadd() {{ local last=${{@[-1]}}; print -rl -- ${{(P)last}} }}
_describe() {{ print -rl -- ${{(P)@[-1]}} ${{(P)@[-2]}} }}
eval "$(buildlog completion zsh 2>/dev/null)"
words=({line}); CURRENT=$#words
_buildlog_completion
"""
FISH = """
buildlog completion fish 2>/dev/null | source
complete -C "{line}"
"""


@pytest.fixture
def shell(demo: Path, tmp_path: Path) -> dict[str, str]:
    """The environment of a person who has just this program, and nothing set."""
    bin_ = tmp_path / "bin"
    bin_.mkdir()
    started = bin_ / "buildlog"
    started.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m buildlog "$@"\n')
    started.chmod(0o755)
    return {**os.environ, "PATH": f"{bin_}:{os.environ['PATH']}", "HOME": str(tmp_path),
            "BUILDLOG_LEDGER": str(demo)}  # fmt: skip


@pytest.mark.parametrize("line", TYPED)
@pytest.mark.parametrize(("name", "script"), [("bash", BASH), ("zsh", ZSH), ("fish", FISH)])
@pytest.mark.one_in(4)
def test_the_shell_offers_the_names(
    name: str, script: str, line: str, shell: dict[str, str], demo: Path
) -> None:
    if shutil.which(name) is None:
        pytest.skip(f"there is no {name} here")
    done = subprocess.run(
        [name, "-c", script.format(line=line)], env=shell, cwd=demo, capture_output=True, text=True,
        check=False,
    )  # fmt: skip
    offered = {offer.split("\t")[0].split(":")[0].strip() for offer in done.stdout.splitlines()}
    offered = {offer.removeprefix("plain,").replace("\\", "") for offer in offered}
    assert TYPED[line] <= offered, done.stdout + done.stderr


def test_outside_a_ledger_nothing_is_offered_and_nothing_is_said(
    buildlog: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("_BUILDLOG_COMPLETE", "bash_complete")
    monkeypatch.setenv("COMP_WORDS", "buildlog diff st")
    monkeypatch.setenv("COMP_CWORD", "2")
    told = buildlog(at=tmp_path)
    assert (told.out.strip(), told.err) == ("", "")
