"""A car's folder and a person at the terminal: what is typed for it, and every screen it shows."""

from __future__ import annotations

import io
import json
import shlex
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from tests.conftest import Call


class Keyboard(io.StringIO):
    """A terminal's input with the answers that will be typed, one a line."""

    def isatty(self) -> bool:
        return True


class Desk:
    """One job: each call is a command as it is typed, with an answer to each question."""

    def __init__(self, folder: Path, buildlog: Call, patch: pytest.MonkeyPatch) -> None:
        self.folder, self.buildlog, self.patch = folder, buildlog, patch
        self.typed: list[str] = []
        self.screens: dict[str, str] = {}

    def __call__(
        self, line: str, answers: Sequence[str] | None = None, *, on: str | None = None,
        at: Path | None = None,
    ) -> str:  # fmt: skip
        """Type a line, and the answers where it asks, on a day; nothing may be refused."""
        keys = [f"{one}\n" for one in answers or ()]
        if answers is not None:
            self.patch.setattr("sys.stdin", Keyboard("".join(keys)))
            self.patch.setattr(type(sys.stdout), "isatty", lambda _: True, raising=False)
        words = [*shlex.split(line), *(("--date", on) if on else ())]
        done = self.buildlog(*words, at=at or self.folder)
        if answers is not None:
            self.patch.undo()
        assert done.status == 0, f"{line}\n{done.out}\n{done.err}"
        self.typed.append(f"buildlog {line}\n{''.join(keys)}")
        name = f"{len(self.typed)}: {line}"
        self.screens[name] = f"{done.out}\n{done.err}"
        return done.out

    def look(self, line: str) -> str:
        """A screen that is looked at, and not counted; a caution in it is no refusal, nor is the
        answer that no formula covers what is asked."""
        done = self.buildlog(*shlex.split(line), at=self.folder)
        answered = done.status in (0, 1) or "no model for" in done.err
        assert answered, f"{line}\n{done.out}\n{done.err}"
        self.screens[line] = f"{done.out}\n{done.err}"
        return done.out

    def told(self, line: str) -> dict[str, Any]:
        """A command's JSON."""
        found = json.loads(self.buildlog(*shlex.split(line), "--json", at=self.folder).out)
        assert isinstance(found, dict)
        return found

    def keys(self, first: int = 0, last: int | None = None) -> int:
        """How many characters were typed, every Enter counted."""
        return sum(len(one) for one in self.typed[first:last])
