"""A served page that is killed and started anew at once: a process that has everything loaded
already, and gives birth to a server whenever one is asked for."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from tests.page.served import Client

ROOT = Path(__file__).parents[2]
_MOTHER = """
import os, signal, sys
from pathlib import Path
from buildlog.desk.questions.check_all import what_next
from buildlog.page.acts import ACTS, act
from buildlog.page.screens import SCREENS, screen
from buildlog.page.server.serving import Serving, ServeSaid

[act(kind) for kind in ACTS], [screen(module) for module, _ in SCREENS.values()]
signal.signal(signal.SIGCHLD, signal.SIG_IGN)
folder, port, https = Path(sys.argv[1]), int(sys.argv[2]), sys.argv[3] == "https"
print("loaded", flush=True)
for line in sys.stdin:
    child = os.fork()
    if child == 0:
        signal.signal(signal.SIGCHLD, signal.SIG_DFL)
        serving = Serving(folder, ServeSaid(port=port, https=https))
        link = serving.start_link()
        serving.run(lambda: print(os.getpid(), serving.port, link, flush=True))
        os._exit(0)
    if port == 0:
        break
"""


@dataclass
class Mortal:
    """A server that can be killed; its port stays, and so do those who are paired."""

    mother: subprocess.Popen[str]
    slug: str
    child: int = 0
    port: int = 0
    link: str = ""

    def start(self) -> None:
        """Start a server, and wait until it answers."""
        to, back = _pipes(self.mother)
        to.write("start\n")
        to.flush()
        pid, port, self.link = back.readline().split()
        self.child, self.port = int(pid), int(port)

    def kill(self) -> None:
        """End it as a power switch ends it."""
        os.kill(self.child, signal.SIGKILL)
        while _lives(self.child):
            pass

    @property
    def client(self) -> Client:
        host = self.link.split("/")[2]
        return Client(host, self.port, self.slug)

    def owner(self) -> Client:
        found = self.client
        found.enter(self.link.partition("key=")[2])
        return found


@contextmanager
def mortal(folder: Path, port: int, *, https: bool = False) -> Iterator[Mortal]:
    """A server on a port that is free now."""
    with subprocess.Popen(
        [sys.executable, "-c", _MOTHER, str(folder), str(port), "https" if https else "http"],
        cwd=ROOT, text=True, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
    ) as mother:  # fmt: skip
        assert _pipes(mother)[1].readline() == "loaded\n"
        found = Mortal(mother, folder.name.casefold())
        found.start()
        try:
            yield found
        finally:
            if _lives(found.child):
                os.kill(found.child, signal.SIGKILL)
            mother.kill()


def _pipes(mother: subprocess.Popen[str]) -> tuple[IO[str], IO[str]]:
    assert mother.stdin
    assert mother.stdout
    return mother.stdin, mother.stdout


def _lives(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True
