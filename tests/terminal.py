"""The command line at a pseudo-terminal, answered as a person would."""

from __future__ import annotations

import os
import select
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path

ROOT = Path(__file__).parents[1]
PATIENCE = 300  # seconds until a program that neither ends nor asks is ended

Answer = Callable[[str, bool], str | None]  # what is typed, if anything


def screen_of(folder: Path, python: Sequence[str], answer: Answer) -> str:
    """What a Python program shows at a pseudo-terminal.

    `answer` is given the screen so far, and whether nothing more came for a while; it is asked
    again only when the screen has changed since it typed something.
    """
    import fcntl  # these three: POSIX only
    import pty
    import termios

    ours, theirs = pty.openpty()

    def at_its_own_terminal() -> None:  # else Ctrl-C is a letter that nobody reads
        fcntl.ioctl(theirs, termios.TIOCSCTTY, 0)

    process = subprocess.Popen(
        [sys.executable, *python], cwd=folder, stdin=theirs, stdout=theirs, stderr=theirs,
        close_fds=True, env=os.environ | {"PYTHONPATH": str(ROOT), "PAGER": "cat"},
        start_new_session=True, preexec_fn=at_its_own_terminal,
    )  # fmt: skip
    os.close(theirs)
    shown, answered, until = b"", -1, time.monotonic() + PATIENCE
    while time.monotonic() < until:
        ready, _, _ = select.select([ours], [], [], 0.1)
        if ready:
            try:
                shown += os.read(ours, 65536)
            except OSError:
                break
        elif process.poll() is not None:
            break
        if len(shown) > answered:
            typed = answer(shown.decode("utf-8", "replace"), not ready)
            if typed is not None:
                os.write(ours, typed.encode())
                answered = len(shown)
    else:
        process.kill()
    process.wait()
    os.close(ours)
    return shown.decode("utf-8", "replace")


def at_terminal(folder: Path, arguments: list[str], lines: list[str], prompt: str = ">") -> str:
    """Run the command in `folder` and answer each prompt with a line; what the screen showed."""
    waiting = iter(lines)

    def answer(screen: str, quiet: bool) -> str | None:
        line = next(waiting, None) if screen.rstrip(" ").endswith(prompt) else None
        return None if line is None else f"{line}\n"

    return screen_of(folder, ["-m", "buildlog", *arguments], answer)
