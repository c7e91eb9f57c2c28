"""Temporary ledgers from a list of operations, with fixed dates, author and nonce.

    ledger = history(tmp_path, [
        put("car.toml", CAR),
        record("intake", kind="found", odometer="88000 mi"),
        put("car.toml", CAR.replace("9.2", "9.0")),
        record("lower compression", on="2026-02-01", stage="stage-1"),
        plain("by plain git"),
    ])

Each entry is made a day after the one before unless it says `on`. The same operations give
the same ids on every machine.
"""

from __future__ import annotations

import os
import subprocess
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from buildlog.store.git.message import EntryFacts
from buildlog.store.ledger.append import Recorder
from buildlog.store.ledger.entries import Entry
from buildlog.store.ledger.ledger import Ledger

SHOP = "Quarry Lane Motors"
NONCE = "5e" * 16
START = datetime(2026, 1, 5, 9, 0, tzinfo=UTC)
CAR = """\
format = 1

[car]
name = "Marrow Tern 2.6"
year = 1994

[engine]
bore = "84.0 mm"      # measured
compression_ratio = 9.2
"""
SESSION = """\
format = 1
date = 2026-01-07

[[pull]]
file = "pull-1.csv"
"""
PULL = b"n [1/min],P [kW]\r\n3000,60.1\r\n4000,82.4\r\n"

Operation = Callable[["Story"], None]


@dataclass
class Story:
    """A ledger while its history is being made."""

    ledger: Ledger
    now: datetime = START

    @property
    def folder(self) -> Path:
        return self.ledger.folder

    def recorder(self) -> Recorder:
        self.now += timedelta(days=1)
        return Recorder(SHOP, self.now)


def history(folder: Path, operations: Sequence[Operation] = (), nonce: str = NONCE) -> Ledger:
    """A ledger in `folder` (made if missing) after the operations; use it in a `with`."""
    folder.mkdir(parents=True, exist_ok=True)
    story = Story(Ledger.create(folder, nonce=nonce))
    for operation in operations:
        operation(story)
    return story.ledger


def usual(folder: Path) -> Ledger:
    """Intake, a baseline with a session, a stage: what most tests need."""
    return history(
        folder,
        [
            put("car.toml", CAR),
            record("intake", kind="found", odometer="88000 mi"),
            put("dyno/2026-01-07-baseline/session.toml", SESSION),
            put("dyno/2026-01-07-baseline/pull-1.csv", PULL),
            record("baseline", kind="dyno", odometer="88010 mi", stage="baseline"),
            put("car.toml", CAR.replace("9.2", "9.0")),
            record("lower compression", odometer="88500 mi", stage="stage-1"),
        ],
    )


def put(path: str, content: str | bytes) -> Operation:
    """Write a working file."""
    data = content.encode() if isinstance(content, str) else content

    def operation(story: Story) -> None:
        place = story.folder / path
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(data)

    return operation


def remove(path: str) -> Operation:
    """Delete a working file."""
    return lambda story: (story.folder / path).unlink()


def record(subject: str, *, on: str | None = None, **facts: Any) -> Operation:
    """Record the working files; `on` sets the day ("2026-02-01")."""

    def operation(story: Story) -> None:
        if on:
            story.now = datetime.fromisoformat(f"{on}T09:00:00+00:00") - timedelta(days=1)
        story.ledger.record(EntryFacts(subject, **facts), story.recorder())

    return operation


def plain(subject: str, *paths: str) -> Operation:
    """Commit with plain git, on the day after the entry before."""

    def operation(story: Story) -> None:
        by = story.recorder()
        git(story.folder, "add", "--", *(paths or ["."]))
        git(story.folder, "commit", "-q", "-m", subject, when=by.now)

    return operation


def next_recorder(ledger: Ledger) -> Recorder:
    """Who records the next entry, a day after the last."""
    known: list[Entry] = ledger.entries()
    last = known[-1].recorded_at if known else START
    return Recorder(SHOP, last + timedelta(days=1))


def git(folder: Path, *arguments: str, when: datetime = START, given: bytes = b"") -> str:
    """Run plain git without any configuration of the user's; its output as text."""
    stamp = when.isoformat()
    environment = {
        "PATH": os.environ["PATH"],
        "GIT_CONFIG_GLOBAL": os.devnull,
        "GIT_CONFIG_NOSYSTEM": "1",
        "GIT_AUTHOR_NAME": "A Friend",
        "GIT_AUTHOR_EMAIL": "friend@example.invalid",
        "GIT_COMMITTER_NAME": "A Friend",
        "GIT_COMMITTER_EMAIL": "friend@example.invalid",
        "GIT_AUTHOR_DATE": stamp,
        "GIT_COMMITTER_DATE": stamp,
        "LC_ALL": "C.UTF-8",
    }
    done = subprocess.run(
        ["git", "-C", str(folder), *arguments],
        env=environment, input=given, capture_output=True, check=True,
    )  # fmt: skip
    return done.stdout.decode("utf-8", "surrogateescape")


def loosen(folder: Path) -> None:
    """Every object of a ledger in a file of its own, so that one of them can be damaged."""
    packs = folder / ".git/objects/pack"
    held = [path.read_bytes() for path in sorted(packs.glob("*.pack"))]
    for path in packs.iterdir():
        path.unlink()
    for data in held:
        git(folder, "unpack-objects", "-q", given=data)
    for path in (folder / ".git/objects").glob("??/*"):
        path.chmod(0o644)


def stand_in_ssh(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Put a program called ssh before the real one: it runs here what the far side would run."""
    program = folder / "bin/ssh"
    program.parent.mkdir()
    program.write_text('#!/bin/sh\nwhile [ "$1" != example.invalid ]; do shift; done\n'
                       'shift\nexec sh -c "$*"\n')  # fmt: skip
    program.chmod(0o755)
    monkeypatch.setenv("PATH", f"{program.parent}:{os.environ['PATH']}")
