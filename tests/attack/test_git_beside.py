"""A plain git that tidies up, clones and fetches beside us takes nothing and alters nothing."""

from __future__ import annotations

import shutil
import subprocess
import threading
from pathlib import Path

import pytest

from buildlog.store.git import packs
from buildlog.store.git.message import EntryFacts
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.verify.verdict import verify_folder
from tests.attack.worlds import call, done, entries
from tests.histories import CAR, git, history, next_recorder, usual

TIDYING = (
    ("gc", "-q"), ("gc", "-q", "--prune=now"), ("repack", "-a", "-d", "-q"),
    ("prune", "--expire=now"), ("pack-refs", "--all"),
)  # fmt: skip


def beside(folder: Path, stop: threading.Event, seen: list[str]) -> None:
    while not stop.is_set():
        for arguments in TIDYING:
            subprocess.run(["git", "-C", str(folder), *arguments], capture_output=True, check=False)
            seen.append(arguments[0])


@pytest.mark.parametrize("count", [40, pytest.param(200, marks=pytest.mark.long)])
def test_records_beside_a_git_that_prunes(tmp_path: Path, count: int) -> None:
    with history(tmp_path / "car") as ledger:
        stop, seen = threading.Event(), list[str]()
        thread = threading.Thread(target=beside, args=(ledger.folder, stop, seen))
        thread.start()
        made = []
        try:
            for number in range(count):
                text = CAR.replace("1994", str(1900 + number % 99)) + f"# {number}\n"
                (ledger.folder / "car.toml").write_text(text)
                made.append(ledger.record(EntryFacts(f"n {number}"), next_recorder(ledger)).id)
        finally:
            stop.set()
            thread.join()
    assert set(made) <= set(entries(tmp_path / "car"))
    assert verify_folder(tmp_path / "car").verdict == "consistent"
    git(tmp_path / "car", "fsck", "--full", "--strict", "--no-dangling")
    assert len(seen) > len(TIDYING)
    print(count, "records,", len(seen), "calls of git")


def test_small_packs_are_gathered_and_nothing_is_left_out(tmp_path: Path) -> None:
    with usual(tmp_path / "car") as ledger:
        for number in range(2 * packs.MANY):
            (ledger.folder / "car.toml").write_text(CAR + f"# {number}\n")
            ledger.record(EntryFacts(f"n {number}"), next_recorder(ledger))
    held = list((tmp_path / "car/.git/objects/pack").glob("*.pack"))
    assert len(held) <= packs.MANY + 1
    assert verify_folder(tmp_path / "car").verdict == "consistent"


def test_an_object_s_keep_is_there_before_its_pack(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    order: list[str] = []
    replace = packs.atomic.replace

    def noted(path: Path, data: bytes, **more: object) -> None:
        order.append(path.suffix)
        replace(path, data, **more)  # type: ignore[arg-type]

    with usual(tmp_path / "car") as ledger:
        monkeypatch.setattr(packs.atomic, "replace", noted)
        (ledger.folder / "car.toml").write_text(CAR + "# more\n")
        ledger.record(EntryFacts("more"), next_recorder(ledger))
    assert order[:3] == [".keep", ".pack", ".idx"]


@pytest.mark.parametrize("what", ["clone", "worktree", "fetch", "other names"])
def test_what_git_leaves_is_not_altered(tmp_path: Path, what: str) -> None:
    usual(tmp_path / "car").close()
    car, looked_at = tmp_path / "car", tmp_path / "car"
    if what == "clone":
        looked_at = tmp_path / "clone"
        git(tmp_path, "clone", "-q", str(car), "clone")
    elif what == "worktree":
        git(car, "worktree", "add", "-q", "../beside", "-b", "beside")
        told = call(tmp_path, "verify", "beside")
        assert told.status == 3
        assert "second work tree" in told.err
    elif what == "fetch":
        git(tmp_path, "clone", "-q", str(car), "clone")
        git(car, "remote", "add", "copy", "../clone")
        git(car, "fetch", "-q", "copy")
        git(car, "remote", "set-head", "copy", "main")
    else:
        git(car, "tag", "mine")
        git(car, "stash", "list")
        (car / ".git/refs/torn").write_text("no id\n")
    found = verify_folder(looked_at)
    assert found.verdict == "consistent"
    assert [one for one in found.findings if one.severity == "error"] == []
    if what == "other names":
        notes = [one.text for one in found.findings if one.code == "reference"]
        assert notes == [f"{name} is no name that a ledger uses"
                         for name in ("refs/tags/mine", "refs/torn")]  # fmt: skip
    assert done(looked_at, "history")


def test_pack_keeps_what_nothing_leads_to(tmp_path: Path) -> None:
    usual(tmp_path / "car").close()
    car = tmp_path / "car"
    stray = git(car, "commit-tree", "HEAD^{tree}", "-p", "HEAD", "-m", "stray").strip()
    for program in (True, False):
        with pytest.MonkeyPatch.context() as patch:
            if not program:
                patch.setattr("buildlog.store.verify.repacking.program", lambda _: None)
            done(car, "pack")
        assert git(car, "cat-file", "-t", stray).strip() == "commit"
    with Ledger.open(car) as ledger:
        assert len(ledger.entries()) == 3


@pytest.mark.parametrize(
    ("asked", "said"),
    [(("main", "other"), "it holds refs/heads/other, which is no name that a handover has"),
     (("other",), "it holds refs/heads/other, which is no name that a handover has"),
     (("main", "^main~1"), "it holds the end of a history, and not what came before")],
)  # fmt: skip
def test_a_bundle_of_plain_git_that_is_no_handover_is_refused_in_words(
    tmp_path: Path, asked: tuple[str, ...], said: str
) -> None:
    usual(tmp_path / "car").close()
    git(tmp_path / "car", "branch", "other", "main~1")
    git(tmp_path / "car", "bundle", "create", "-q", "../x.bundle", *asked)
    told = call(tmp_path, "receive", "x.bundle", "got")
    assert (told.status, said in told.err, (tmp_path / "got").exists()) == (5, True, False)
    git(tmp_path / "car", "bundle", "create", "-q", "../y.bundle", "main", "--tags")
    assert done(tmp_path, "receive", "y.bundle", "got")


def test_a_day_that_lies_ahead_is_told_by_verify(tmp_path: Path) -> None:
    """By a plain git, or by another computer's clock: of a folder, and of what was received."""
    usual(tmp_path / "car").close()
    car = tmp_path / "car"
    (car / "car.toml").write_text((car / "car.toml").read_text() + "# later\n")
    words = "later\n\nWork-date: 2199-01-01\nEntry-kind: build\nOdometer: unknown"
    git(car, "commit", "-q", "-a", "-m", words)
    git(car, "bundle", "create", "-q", "../x.bundle", "main")
    for target in (".", str(tmp_path / "x.bundle")):
        said = call(car, "verify", target)
        assert said.status == 0, said.out
        assert "entry 4 is dated 2199-01-01, which lies ahead" in " ".join(said.out.split())
    done(car, "set", "engine.bore=90.1 mm")
    refused = call(car, "record", "-m", "x", "--odometer", "unknown")
    assert (refused.status, "--odometer-note" in refused.err) == (4, True)
    done(car, "record", "-m", "x", "--odometer", "unknown", "--odometer-note", "their clock")


def test_nothing_in_a_received_config_is_obeyed(tmp_path: Path) -> None:
    """Hooks, watchers, filters, helpers and other names for git's own words."""
    usual(tmp_path / "car").close()
    car, ran = tmp_path / "car", tmp_path / "ran"
    script = tmp_path / "script"
    script.write_text(f'#!/bin/sh\necho "$0" >> {ran}\n')
    script.chmod(0o755)
    (car / ".git/hooks").mkdir(exist_ok=True)
    for name in ("pre-commit", "post-checkout", "reference-transaction", "post-index-change",
                 "pre-push", "update", "pre-receive", "post-rewrite"):  # fmt: skip
        shutil.copy(script, car / ".git/hooks" / name)
    settings = [
        "core.hooksPath=.git/hooks", "core.fsmonitor={}", "core.pager={}", "core.editor={}",
        "core.sshCommand={}", "core.gitProxy={}", "core.alternateRefsCommand={}",
        "filter.x.clean={}", "filter.x.smudge={}", "filter.x.process={}", "diff.external={}",
        "gpg.program={}", "gpg.ssh.program={}", "credential.helper=!{}", "alias.repack=!{}",
        "uploadpack.packObjectsHook={}", "gc.recentObjectsHook={}", "include.path=/nowhere/x",
    ]  # fmt: skip
    for one in settings:
        name, _, value = one.partition("=")
        git(car, "config", name, value.format(script))
    ran.unlink(missing_ok=True)  # what git itself ran, as it was set
    (car / ".git/info").mkdir(exist_ok=True)
    (car / ".git/info/attributes").write_text("* filter=x diff=x\n")
    copy, given = str(tmp_path / "copy"), str(tmp_path / "given")
    for words in (["history"], ["verify"], ["pack"], ["next"], ["set", "engine.bore=90.1 mm"],
                  ["diff"], ["record", "-m", "x", "--odometer", "unknown"], ["sync", copy],
                  ["check"], ["handover", given, "--no-pdf", "--to", "R. Holloway"]):  # fmt: skip
        said = call(car, *words)
        assert said.status in (0, 1), (words, said)
    done(tmp_path, "receive", f"{given}.zip", "got")
    assert not ran.exists()
    assert "which a plain git would obey" in " ".join(call(car, "verify").out.split())


@pytest.mark.parametrize("part", ["--depth=1", "--filter=blob:none"])
def test_a_clone_of_a_part_is_never_taken_for_a_copy(tmp_path: Path, part: str) -> None:
    usual(tmp_path / "car").close()
    git(tmp_path / "car", "config", "uploadpack.allowFilter", "true")
    source = f"file://{tmp_path}/car"
    git(tmp_path, "clone", "-q", "--bare", part, source, "part")
    git(tmp_path, "clone", "-q", part, source, "clone")
    for there in ("part", "clone"):
        said = call(tmp_path / "car", "sync", f"../{there}")
        assert said.status == 3
        assert "this clone holds a part of the ledger" in said.err
        assert f"{there}: " in said.err
    assert "no other copy is known" in " ".join(call(tmp_path / "car", "next").out.split())
