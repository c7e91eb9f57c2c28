"""A ledger made by version 0.1.0 opens, verifies and tells the same changes, for good.

The bundle is the demo's ledger as that version made it; it is never made anew. Whatever a later
version says about power, margins or wording may change; what was recorded, its ids and what was
changed from stage to stage may not.
"""

from __future__ import annotations

import json
import subprocess
import tomllib
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from tests.conftest import ROOT, Call
from tests.golden.play import BUNDLE

STAGES = ("as-found", "baseline", "stage-1", "stage-2", "stage-2-recheck")
SPANS = [*pairwise(STAGES), ("as-found", "stage-2-recheck"), ("stage-2", "stage-1")]
IDS = (ROOT / "tests" / "demo_ids.txt").read_text(encoding="utf-8").split()


@pytest.fixture
def old(tmp_path: Path, buildlog: Call) -> Path:
    """The ledger of 0.1.0, taken over from its bundle."""
    received = buildlog("receive", BUNDLE, tmp_path / "old")
    assert received.status == 0, received.err
    return tmp_path / "old"


def told(buildlog: Call, at: Path, *words: str) -> Any:
    answer = buildlog(*words, "--json", at=at)
    assert answer.status == 0, answer.err
    return json.loads(answer.out)


def test_it_verifies(old: Path, buildlog: Call) -> None:
    assert told(buildlog, old, "verify")["verdict"] == "consistent"
    assert [entry["id"] for entry in told(buildlog, old, "history")["entries"]] == IDS


def git(*words: str | Path) -> str:
    done = subprocess.run(["git", *map(str, words)], capture_output=True, text=True, check=True)
    return done.stdout


def test_plain_git_reads_it_with_every_stage(tmp_path: Path) -> None:
    clone = tmp_path / "clone"
    git("clone", "--quiet", BUNDLE, clone)
    git("-C", clone, "fsck", "--full", "--strict")
    assert git("-C", clone, "log", "--reverse", "--format=%H").split() == IDS
    tags = git("-C", clone, "tag", "--list", "stage/*").split()
    assert tags == sorted(f"stage/{stage}" for stage in STAGES)


def values(table: dict[str, Any], above: str = "") -> Iterator[tuple[str, str]]:
    """Every value of a TOML table as text, under its dotted path."""
    for key, value in table.items():
        path = above + (f'"{key}"' if "." in key else key)
        if isinstance(value, dict):
            yield from values(value, f"{path}.")
        else:
            yield path, str(value)


@pytest.mark.parametrize(("before", "after"), SPANS)
def test_what_changed_is_what_the_two_texts_say(
    before: str, after: str, old: Path, buildlog: Call
) -> None:
    """Against plain git and the TOML reader of the standard library, value by value."""

    def text(stage: str) -> dict[str, str]:
        return dict(values(tomllib.loads(git("-C", old, "show", f"stage/{stage}:car.toml"))))

    was, now = text(before), text(after)
    meant = {
        path: (was.get(path), now.get(path))
        for path in was.keys() | now.keys()
        if was.get(path) != now.get(path)
    }
    found = {
        change["path"]: tuple(end and end["text"] for end in (change["from"], change["to"]))
        for change in told(buildlog, old, "diff", before, after)["changes"]
    }
    assert found == meant
    assert bool(meant) == ((before, after) != ("as-found", "baseline"))


def test_it_takes_another_entry(old: Path, buildlog: Call) -> None:
    assert buildlog("set", "tyres.pressure=2.4 bar", at=old).status == 0
    recorded = buildlog("record", "-m", "tyre pressure", "--kind", "build", at=old)
    assert recorded.status == 0, recorded.err
    entries = told(buildlog, old, "history")["entries"]
    assert [entry["id"] for entry in entries][:-1] == IDS
    assert told(buildlog, old, "verify")["verdict"] == "consistent"
