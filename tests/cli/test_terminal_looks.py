"""A terminal as it is: its width, colour and pager, consoles of few letters, Ctrl-C."""

from __future__ import annotations

import io
import os
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from buildlog import errors
from buildlog.cli import terminal
from buildlog.report.lines import PAGE
from tests.cli.test_widths import SCREENS
from tests.conftest import Call

pty = pytest.importorskip("pty", reason="no terminals of this kind here")

ESCAPES = re.compile(r"\x1b\[[0-9;]*m")


def at_a_terminal(
    *typed: str, columns: int = 80, rows: int = 60, **environment: str
) -> tuple[int, str]:
    """What a person sees who types this at a terminal of so many columns and rows."""
    import fcntl
    import struct
    import termios

    process, terminal_ = pty.fork()
    if process == 0:
        size = {"COLUMNS": str(columns), "LINES": str(rows)}
        kept = {
            name: value for name, value in os.environ.items() if name not in ("NO_COLOR", "TERM")
        }
        os.environ.clear()
        os.environ.update({**kept, "TERM": "xterm", **size, **environment})
        os.execv(sys.executable, [sys.executable, "-m", "buildlog", *typed])
    fcntl.ioctl(terminal_, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
    seen = b""
    while True:
        try:
            more = os.read(terminal_, 1 << 16)
        except OSError:
            break
        if not more:
            break
        seen += more
    _, status = os.waitpid(process, 0)
    return os.waitstatus_to_exitcode(status), seen.decode("utf-8").replace("\r\n", "\n")


@pytest.mark.parametrize("width", [60, 80, pytest.param(120, marks=pytest.mark.long)])
@pytest.mark.parametrize("command", SCREENS)
@pytest.mark.one_in(5)
def test_a_screen_fits_the_width(
    command: str, width: int, demo: Path, buildlog: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Commands to be copied stay whole."""
    monkeypatch.setattr(terminal, "_is_terminal", lambda stream: stream is sys.stdout)
    monkeypatch.setattr(terminal, "_has_colour", lambda stream: False)
    monkeypatch.setenv("COLUMNS", str(width))
    told = buildlog(*command.split(), at=demo)
    monkeypatch.setattr(PAGE, "width", 80)
    assert told.out
    long = [line for line in told.out.splitlines() if len(line) > width]
    assert [line for line in long if "buildlog " not in line] == []


FIGURE = re.compile(
    r"[+-]?\d[\d,.]* (?:± \d[\d,.]*(?: \w+)?|%|(?:hp|lb·ft|psi|rpm|mi|°F|lb/h)\b)"
    r"|(?<![\w.,-])\d+[.,]\d+(?![\w.,-])"
)


@pytest.mark.parametrize("command", SCREENS)
def test_no_figure_is_lost_on_a_narrow_screen(
    command: str, demo: Path, buildlog: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What has a figure on an ordinary page has it whole on one of sixty columns."""
    ordinary = buildlog(*command.split(), at=demo).out
    monkeypatch.setattr(terminal, "_is_terminal", lambda stream: stream is sys.stdout)
    monkeypatch.setattr(terminal, "_has_colour", lambda stream: False)
    monkeypatch.setenv("COLUMNS", "60")
    narrow = buildlog(*command.split(), at=demo).out
    monkeypatch.setattr(PAGE, "width", 80)
    if "more field" in narrow:  # a choice of fields, fewer on a narrow screen, that says how many
        return
    figures = set(FIGURE.findall(ordinary))
    assert {one for one in figures if one not in narrow} == set()


def test_what_is_seen_is_what_a_pipe_gets_but_for_colour(demo: Path, buildlog: Call) -> None:
    status, seen = at_a_terminal("diff", "stage-1", "stage-2", "--ledger", str(demo))
    assert status == 0
    assert "\x1b[1m" in seen
    told = buildlog("diff", "stage-1", "stage-2", "--ledger", demo)
    assert ESCAPES.sub("", seen) == told.out


@pytest.mark.parametrize("setting", [{"NO_COLOR": "1"}, {"TERM": "dumb"}])
def test_no_colour_where_none_is_wanted(setting: dict[str, str], demo: Path) -> None:
    _, seen = at_a_terminal("margins", "--ledger", str(demo), **setting)
    assert "\x1b" not in seen
    assert "close" in seen


def test_a_state_stands_in_words_whatever_its_colour(demo: Path) -> None:
    _, seen = at_a_terminal("margins", "--ledger", str(demo))
    coloured = set(re.findall(r"\x1b\[3[0-9]m\x1b\[1m(\w+)\x1b\[0m", seen))
    assert "close" in coloured
    assert coloured <= set(terminal._STATES) | set(terminal._FINDINGS)


def test_green_yellow_and_red_colour_nothing() -> None:
    used = {*terminal._STATES.values(), *terminal._FINDINGS.values()}
    assert used & {"green", "yellow", "red"} == set()


def test_what_is_longer_than_the_screen_goes_to_the_pager(demo: Path) -> None:
    typed = ("margins", "--ledger", str(demo))
    _, short = at_a_terminal(*typed, rows=20, PAGER="head -n 3")
    _, whole = at_a_terminal(*typed, "--no-pager", rows=20, PAGER="head -n 3")
    _, fits = at_a_terminal(*typed, rows=200, PAGER="head -n 3")
    assert len(short.splitlines()) <= 4 < len(whole.splitlines())
    assert whole == fits


@pytest.mark.parametrize("place", ["before", "before=", "behind"])
def test_the_ledger_is_named_before_the_command_or_behind_it(
    place: str, demo: Path, buildlog: Call, tmp_path: Path
) -> None:
    named = {"before": ["--ledger", demo, "history"], "before=": [f"--ledger={demo}", "history"],
             "behind": ["history", "--ledger", demo]}[place]  # fmt: skip
    assert buildlog(*named, at=tmp_path).out.startswith("16 entries")


def test_alone_in_a_ledger_it_says_where_the_car_stands(demo: Path, buildlog: Call) -> None:
    told = buildlog(at=demo)
    assert told.status == 0
    assert told.out.startswith("Marrow Tern 2.6: 16 entries, at stage-2-recheck")
    assert told.out.index("next: ") < told.out.index("Commands, in the order of the work")


def test_alone_outside_a_ledger_it_lists_the_commands(tmp_path: Path, buildlog: Call) -> None:
    told = buildlog(at=tmp_path)
    assert told.out.startswith("Usage: buildlog")
    assert told.err == ""


@pytest.mark.parametrize(
    "letters", ["cp1252", "ascii", pytest.param("cp437", marks=pytest.mark.long)]
)
@pytest.mark.parametrize("command", [*SCREENS, "--help", "dyno add --help", "show nonesuch"])
@pytest.mark.one_in(6)
def test_every_command_answers_on_a_console_of_few_letters(
    command: str, letters: str, demo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import io

    from buildlog.cli.main import run

    out = io.TextIOWrapper(io.BytesIO(), encoding=letters, errors="strict", newline="\n")
    err = io.TextIOWrapper(io.BytesIO(), encoding=letters, errors="strict", newline="\n")
    monkeypatch.setattr(sys, "stdout", out)
    monkeypatch.setattr(sys, "stderr", err)
    monkeypatch.chdir(demo)
    with pytest.raises(SystemExit) as ended:
        run(command.split())
    for stream in (out, err):
        stream.flush()
    told = out.buffer.getvalue() + err.buffer.getvalue()  # type: ignore[attr-defined]
    assert ended.value.code != 70
    assert told.strip()
    if letters == "ascii" and "--help" not in command:
        assert told.decode("ascii")


def test_a_letter_that_a_console_has_not_is_spelt() -> None:
    terminal.begin()
    assert "±·×°C".encode("ascii", "spelt") == b"+/-*xdegC"
    assert "±·°C λ".encode("cp437", "spelt").decode("cp437") == "±·°C lambda"
    assert "Müller ☃".encode("ascii", "spelt") == b"Mueller \\u2603"


# Ctrl-C


def stopped_at(moment: int, change: Callable[[], Any], monkeypatch: pytest.MonkeyPatch) -> bool:
    """Do it, and press Ctrl-C when the disk is asked for the nth time; whether it came to that."""
    left = [moment]

    def interrupting(name: str) -> Callable[..., Any]:
        real = getattr(os, name)

        def call(*args: Any, **kwargs: Any) -> Any:
            left[0] -= 1
            if left[0] == 0:
                raise KeyboardInterrupt
            return real(*args, **kwargs)

        return call

    with monkeypatch.context() as patched:
        for name in ("fsync", "replace"):
            patched.setattr(os, name, interrupting(name))
        change()
    return left[0] <= 0


def main_of(folder: Path) -> str:
    return (folder / ".git" / "refs" / "heads" / "main").read_text()


COMMANDS = {
    "record": ["record", "-m", "a wider pipe", "--odometer", "89700 mi"],
    "handover": ["handover", "../given", "--no-pdf"],
    "sync": ["sync", "../stick"],
}


@pytest.mark.parametrize("moment", [
    pytest.param(n, marks=[pytest.mark.long] * (n % 2)) for n in range(1, 21)
])  # fmt: skip
@pytest.mark.parametrize("name", COMMANDS)
@pytest.mark.one_in(5)
def test_the_last_line_is_true_after_ctrl_c(
    name: str, moment: int, demo_copy: Path, buildlog: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    (demo_copy.parent / "stick").mkdir()
    if name != "handover":
        assert buildlog("set", "exhaust.pipe_diameter=63.5 mm", at=demo_copy).status == 0
    before = main_of(demo_copy)
    told: list[Any] = []
    monkeypatch.setattr(errors, "_acts", [])  # as in a process of its own
    came = stopped_at(
        moment, lambda: told.append(buildlog(*COMMANDS[name], at=demo_copy)), monkeypatch
    )
    if not came:
        pytest.skip("it was done before")
    recorded = main_of(demo_copy) != before
    if told[0].status == 130:
        last = told[0].err.strip()
        assert last.startswith("stopped; ")
        if recorded and name != "sync":
            assert "nothing was recorded" not in last
    monkeypatch.undo()
    assert buildlog("verify", "--ledger", demo_copy).status in (0, 1)


def test_what_is_left_of_a_long_work_is_estimated(monkeypatch: pytest.MonkeyPatch) -> None:
    """Three seconds for each tenth: of the last six, eighteen are left."""

    class Screen(io.StringIO):
        def isatty(self) -> bool:
            return True

    screen, now = Screen(), [1000.0]
    monkeypatch.setattr(sys, "stderr", screen)
    monkeypatch.setattr("click._termui_impl.time.time", lambda: now[0])
    with terminal.progress("sheet") as tell:
        for tenth in range(5):
            tell(tenth / 10)
            now[0] += 3.0
    assert "00:00:18" in screen.getvalue()


def test_a_long_work_says_how_far_it_is(demo: Path, tmp_path: Path) -> None:
    """On the terminal's error stream, to its end; a pipe hears nothing of it."""
    out = tmp_path / "s.html"
    words = ("report", "stage-2", "--ledger", str(demo), "--out", str(out))
    status, shown = at_a_terminal(*words)
    assert status == 0
    far = [int(share) for share in re.findall(r"sheet +\[[#-]*\] +(\d+)%", shown)]
    assert far == sorted(far)
    assert any(0 < share < 100 for share in far)
    assert "100%" in shown
    told = subprocess.run([sys.executable, "-m", "buildlog", *words], capture_output=True,
                          check=True)  # fmt: skip
    assert told.stderr == b""
