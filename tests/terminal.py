"""The command line at a pseudo-terminal, answered line by line as a person would."""

from __future__ import annotations

import os
import select
import subprocess
import sys
import time
from pathlib import Path


def at_terminal(folder: Path, arguments: list[str], lines: list[str], prompt: str = ">") -> str:
    """Run the command in `folder` and answer each prompt with a line; what the screen showed."""
    import pty  # POSIX only

    ours, theirs = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-m", "buildlog", *arguments],
        cwd=folder, stdin=theirs, stdout=theirs, stderr=theirs, close_fds=True,
        env=os.environ | {"PYTHONPATH": str(Path(__file__).parents[1])},
    )  # fmt: skip
    os.close(theirs)
    screen, waiting, deadline = "", list(lines), time.monotonic() + 60
    while time.monotonic() < deadline:
        ready, _, _ = select.select([ours], [], [], 0.1)
        if ready:
            try:
                screen += os.read(ours, 4096).decode("utf-8", "replace")
            except OSError:
                break
        elif process.poll() is not None:
            break
        if waiting and screen.rstrip(" ").endswith(prompt):
            os.write(ours, f"{waiting.pop(0)}\n".encode())
            screen += "\n"
    process.wait(10)
    os.close(ours)
    return screen
