"""What the car waits for: written down, ended, told by `next` and by the shop's list."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path

import pytest

from tests.conftest import Call

DAY = dt.date(2026, 6, 15)


@pytest.fixture(autouse=True)
def clock(monkeypatch: pytest.MonkeyPatch) -> None:
    """15 June 2026, nine days after the demo's last entry."""
    for module in ("buildlog.desk.snapshot.snapshot.today",
                   "buildlog.desk.questions.check_all.today"):  # fmt: skip
        monkeypatch.setattr(module, lambda: DAY)


def ok(buildlog: Call, folder: Path, *arguments: str) -> str:
    done = buildlog(*arguments, at=folder)
    assert done.status == 0, done.err
    return done.out


def test_a_wait_is_written_told_everywhere_and_ended(demo_copy: Path, buildlog: Call) -> None:
    assert "waits for nothing" in ok(buildlog, demo_copy, "waiting", "list")
    ok(buildlog, demo_copy, "waiting", "add", "the owner's word", "--for", "go-ahead",
       "--date", "2026-06-12")  # fmt: skip
    said = ok(buildlog, demo_copy, "waiting", "add", "clutch disc", "--for", "part", "--since",
              "2026-06-01", "--expected", "2026-06-10", "--date", "2026-06-12", "--by", "D-02",
              "--note", "ordered twice")  # fmt: skip
    assert "waiting/2026-06-12-clutch-disc.toml" in said
    listed = ok(buildlog, demo_copy, "waiting", "list")
    assert listed.startswith("it waits for 2 things, 1 expected before 2026-06-15\n")
    assert "clutch disc (part), since 2026-06-01, was expected 2026-06-10, D-02" in listed
    told = json.loads(ok(buildlog, demo_copy, "waiting", "list", "--json"))
    assert told["format"] == "buildlog/waiting-list/1"
    assert [one["what"] for one in told["waiting"]] == ["clutch disc", "the owner's word"]

    shop = ("shop", "list", "..", "--json")
    assert json.loads(ok(buildlog, demo_copy, *shop))["cars"][0]["waiting"] == [], "not recorded"
    ok(buildlog, demo_copy, "record", "-m", "what it waits for", "--date", "2026-06-12")
    for name in ("clutch-disc", None):
        due = json.loads(ok(buildlog, demo_copy, "next", "--json"))["waiting"]
        (car,) = json.loads(ok(buildlog, demo_copy, *shop))["cars"]
        assert car["waiting"][0].items() <= {**due[0], "since": car["waiting"][0]["since"]}.items()
        assert f"waits for:\n  - {due[0]['what']}" in ok(buildlog, demo_copy, "next")
        assert "waits: " in ok(buildlog, demo_copy, "shop", "list", "..")
        assert f"waits for {due[0]['what']} (" in " ".join(
            ok(buildlog, demo_copy, "shop", "list", "..", "--full").split()
        )
        ok(
            buildlog,
            demo_copy,
            "waiting",
            "done",
            *([name] if name else []),
            "--date",
            "2026-06-13",
        )
        ok(buildlog, demo_copy, "record", "-m", "it came", "--date", "2026-06-13")
    assert "waits for" not in ok(buildlog, demo_copy, "next")
    assert "waits: " not in ok(buildlog, demo_copy, "shop", "list", "..")


@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [
        (["add", "x", "--for", "nothing"], 2, "go-ahead"),
        (["add", "x", "--since", "soon"], 2, "write it as 2026-03-14"),
        (["add", "x", "--since", "2026-06-16"], 4, "lies ahead"),
        (["add", "x", "--expected", "2026-06-14"], 4, "before it began"),
        (["add", "x", "--date", "2027-01-01"], 4, "lies ahead"),
        (["add", " "], 4, "what does it wait for"),
        (["done"], 3, "it waits for nothing"),
        (["done", "brakes"], 3, "it waits for nothing"),
    ],
)
def test_what_is_wrong_is_said(
    demo_copy: Path, buildlog: Call, arguments: list[str], status: int, words: str
) -> None:
    done = buildlog("waiting", *arguments, at=demo_copy)
    assert done.status == status, done.err
    assert words in done.err
    assert not (demo_copy / "waiting").exists()
