"""What is said when somebody is stopped, and what is left by the dead and by other programs."""

from __future__ import annotations

import ctypes
import os
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from buildlog.errors import TrustError
from buildlog.store.disk import atomic, drafts, start_of_computer
from buildlog.store.git import transport
from buildlog.store.git.repo import Repo
from buildlog.store.verify.verdict import verify_folder
from tests.attack.worlds import call, done, entries
from tests.conftest import ROOT
from tests.histories import git, usual
from tests.store.test_ledger_crash import KthCall


@pytest.fixture
def car(tmp_path: Path) -> Path:
    done(tmp_path, "new", "car", "--name", "Marrow Tern")
    folder = tmp_path / "car"
    done(folder, "record", "-m", "as found", "--odometer", "88000 mi")
    done(folder, "set", "engine.bore=90.2 mm")
    return folder


def stop() -> None:
    raise KeyboardInterrupt


@pytest.mark.skipif(not hasattr(os, "fork"), reason="counts the calls of a disk like ours")
def test_who_is_stopped_is_told_what_stands(car: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from buildlog import errors

    told = set()
    for k in range(1, 60):
        before = entries(car)
        monkeypatch.setattr(errors, "_acts", [])
        with monkeypatch.context() as patch:
            KthCall(patch, k, stop)
            said = call(car, "record", "-m", f"n {k}", "--odometer", "unknown")
        if said.status == 0:
            break
        assert said.status == 130
        new = set(entries(car)) - set(before)
        assert said.last == (f"stopped; the entry {new.pop()[:8]} is recorded" if new
                             else "stopped; nothing was recorded")  # fmt: skip
        told.add(said.last[:16])
        done(car, "set", f"engine.bore={90 + k / 10} mm")
    assert len(told) == 2


def test_a_handover_with_other_words_is_another_entry(
    car: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    done(car, "record", "-m", "bored", "--odometer", "88100 mi")
    with monkeypatch.context() as patch:
        patch.setattr("buildlog.store.exchange.passing_on.write", lambda *_: stop())
        patch.setattr("buildlog.store.exchange.passing_on.tag", lambda *_: stop())
        said = call(car, "handover", "--no-pdf", str(tmp_path / "out"), "--to", "R. Holloway")
        assert said.status == 130
    begun = len(entries(car))
    done(car, "handover", "--no-pdf", str(tmp_path / "out"), "--to", "S. Marsh")
    assert len(entries(car)) == begun + 1
    assert "S. Marsh" in (car / "handover/2.toml").read_text()


def test_a_file_that_is_written_keeps_its_mode(car: Path) -> None:
    for mode in (0o600, 0o664):
        (car / "car.toml").chmod(mode)
        done(car, "set", f"engine.bore={mode / 4} mm")
        assert (car / "car.toml").stat().st_mode & 0o777 == mode


def test_https_never_leads_to_an_open_way() -> None:
    pool = transport._pool("https://server.example/tern.git")
    with pytest.raises(TrustError, match="not encrypted"):
        pool.connection_from_host("server.example", 80, "http")
    assert pool.connection_from_host("server.example", 443, "https").scheme == "https"


def test_what_dead_processes_left_is_swept_by_whatever_comes_next(car: Path) -> None:
    dead = subprocess.Popen([sys.executable, "-c", ""])
    dead.wait()
    own = drafts.name("out").replace(f".{os.getpid()}.", f".{dead.pid}.")
    left = [car / own, car.parent / own, car / ".git/objects/pack/pack-x.keep"]
    alive = car.parent / drafts.name("next")
    for folder in (*left[:2], alive):
        folder.mkdir()
    left[2].write_bytes(b"being recorded by buildlog\n")
    other = car / ".git/objects/pack/pack-y.keep"
    other.write_bytes(b"")
    done(car, "history")
    assert [path for path in left if path.exists()] == []
    assert alive.exists()
    assert other.exists()


def test_another_program_s_lock_is_told_with_its_age(
    car: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("buildlog.store.ledger.append._PATIENCE", 0.1)
    lock = car / ".git/index.lock"
    lock.touch()
    os.utime(lock, (lock.stat().st_atime, lock.stat().st_mtime - 300))
    said = call(car, "record", "-m", "x", "--odometer", "unknown")
    assert said.status == 6
    assert "index.lock, 5 min old" in said.err


@pytest.mark.parametrize("left", [[], ["buildlog-nonce"], ["buildlog-nonce", "config"]])
def test_a_half_made_ledger_is_begun_again(tmp_path: Path, left: list[str]) -> None:
    done(tmp_path, "new", "first", "--name", "Marrow Tern")
    held = {name: (tmp_path / "first/.git" / name).read_bytes() for name in left}
    (tmp_path / "car/.git/objects").mkdir(parents=True)
    for name, data in held.items():
        (tmp_path / "car/.git" / name).write_bytes(data)
    done(tmp_path, "new", "car", "--name", "Marrow Tern")
    git(tmp_path, "init", "-q", "theirs")
    assert call(tmp_path, "new", "theirs", "--name", "Marrow Tern").status == 4
    assert (tmp_path / "theirs/.git/HEAD").exists()


# Windows and macOS, imitated: what their systems answer is put in the place of ours.


def test_a_file_that_another_program_holds_open_is_tried_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Windows refuses to replace an open file (MoveFileEx: ERROR_ACCESS_DENIED; from memory)."""
    replace, times = os.replace, [0]

    def held(old: Any, new: Any) -> None:
        times[0] += 1
        if times[0] < 3:
            raise PermissionError(13, "Access is denied", str(new))
        replace(old, new)

    monkeypatch.setattr(os, "replace", held)
    (tmp_path / "x").write_bytes(b"old")
    (tmp_path / "draft").write_bytes(b"new")
    monkeypatch.setattr(atomic.os, "name", "nt")
    atomic.move_over(tmp_path / "draft", tmp_path / "x")
    monkeypatch.setattr(atomic.os, "name", "posix")
    assert (times[0], (tmp_path / "x").read_bytes()) == (3, b"new")


def test_macos_forces_past_the_disk_s_own_memory(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """fcntl(2) of macOS: F_FULLFSYNC; a disk that does not know it gets fsync."""
    asked: list[int] = []

    class Mac:
        F_FULLFSYNC = 51

        @staticmethod
        def fcntl(handle: int, what: int) -> None:
            asked.append(what)
            if len(asked) > 1:
                raise OSError(45, "Operation not supported")

    monkeypatch.setattr(atomic, "fcntl", Mac)
    atomic.replace(tmp_path / "x", b"one")
    assert asked == [51, 51]
    assert (tmp_path / "x").read_bytes() == b"one"


def test_a_console_that_lacks_a_character_gets_another_one(car: Path) -> None:
    said = ["record", "--dry-run", "-m", "naïve – 日本 μ", "--odometer", "unknown"]
    told = subprocess.run(
        [sys.executable, "-m", "buildlog", *said], cwd=car, capture_output=True, check=False,
        env={**os.environ, "PYTHONIOENCODING": "cp1252", "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert told.returncode == 0, told.stderr
    assert b"na\xefve \x96 \\u65e5\\u672c \\u03bc" in told.stdout


@pytest.mark.parametrize("place", ["refs/heads/main", "config", "HEAD", "index"])
def test_a_flipped_bit_around_the_objects_is_never_taken_for_another_history(
    car: Path, place: str
) -> None:
    done(car, "record", "-m", "bored", "--odometer", "88100 mi")
    path, known = car / ".git" / place, set(entries(car))
    whole = path.read_bytes()
    for at in range(0, len(whole) * 8, max(1, len(whole) * 8 // 60)):
        flipped = bytearray(whole)
        flipped[at // 8] ^= 1 << (at % 8)
        path.write_bytes(bytes(flipped))
        said = call(car, "verify")
        assert said.status in (0, 1, 3, 5), said
        assert "Traceback" not in said.err
        if said.status == 0:
            with Repo(car) as repo:
                assert repo.tip() in known
    path.write_bytes(whole)
    assert call(car, "verify").status == 0


@pytest.mark.parametrize("system", ["linux", "win32", "darwin"])
def test_the_start_of_the_computer_is_asked_of_its_own_system(
    system: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Win32's GetTickCount64 and macOS's kern.boottime, as stand-ins for those systems."""

    class Windows:
        class kernel32:
            class GetTickCount64:
                restype: Any = None

                def __new__(cls) -> Any:
                    return 3_600_000

    class Mac:
        @staticmethod
        def sysctlbyname(name: bytes, held: Any, size: Any, *_: Any) -> int:
            held[0] = int(time.time()) - 3600
            return 0 if name == b"kern.boottime" else -1

    monkeypatch.setattr(start_of_computer.sys, "platform", system)
    monkeypatch.setattr(ctypes, "windll", Windows, raising=False)
    if system == "darwin":
        monkeypatch.setattr(ctypes, "CDLL", lambda _: Mac)
    started = start_of_computer.last_start()
    if system == "linux":
        uptime = float(Path("/proc/uptime").read_text().split()[0])
        assert started == pytest.approx(time.time() - uptime, abs=5)
    else:
        assert started == pytest.approx(time.time() - 3600, abs=5)


def test_a_folder_that_is_held_open_is_tried_again_and_then_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "draft").mkdir()

    def held(old: Any, new: Any) -> None:
        raise PermissionError(13, "Access is denied", str(new))

    monkeypatch.setattr(atomic, "_PATIENCE", 0.1)
    monkeypatch.setattr(os, "rename", held)
    monkeypatch.setattr(atomic.os, "name", "nt")
    try:
        with pytest.raises(PermissionError, match="another program has it open"):
            atomic.move_folder(tmp_path / "draft", tmp_path / "place")
    finally:
        monkeypatch.setattr(atomic.os, "name", "posix")


def test_a_new_ledger_tells_git_to_keep_every_byte(tmp_path: Path) -> None:
    done(tmp_path, "new", "car", "--name", "Marrow Tern")
    done(tmp_path / "car", "record", "-m", "as found", "--odometer", "88000 mi")
    raw = tmp_path / "car/attachments/raw.csv"
    raw.parent.mkdir()
    raw.write_bytes(b"n,P\n3000,60\r\n")
    done(tmp_path / "car", "record", "-m", "raw", "--odometer", "unknown")
    git(tmp_path, "-c", "core.autocrlf=true", "clone", "-q", "car", "clone")
    assert (tmp_path / "clone/attachments/raw.csv").read_bytes() == raw.read_bytes()
    assert git(tmp_path / "car", "show", "main~1:.gitattributes").endswith("* -text\n")
    assert "line-ends" not in {one.code for one in verify_folder(tmp_path / "car").findings}


def test_an_older_ledger_is_told_where_git_changes_line_ends(tmp_path: Path) -> None:
    usual(tmp_path / "car").close()
    assert "line-ends" not in {one.code for one in verify_folder(tmp_path / "car").findings}
    git(tmp_path / "car", "config", "core.autocrlf", "true")
    told = [one for one in verify_folder(tmp_path / "car").findings if one.code == "line-ends"]
    assert [one.severity for one in told] == ["note"]


@pytest.mark.parametrize("debug", [False, True])
def test_our_own_failure_says_its_kind_and_place_and_no_value_of_the_car(
    car: Path, debug: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    vin = "1M8GDM9AXKP042788"

    def broken(*_: Any) -> list[str]:
        raise ValueError(f"cannot show {vin} of {car}")

    monkeypatch.setattr("buildlog.report.as_text.show_text.show_lines", broken)
    if debug:
        monkeypatch.setenv("BUILDLOG_DEBUG", "1")
        with pytest.raises(ValueError, match=vin):
            call(car, "show")
        return
    said = call(car, "show")
    assert said.status == 70
    assert vin not in said.err
    assert str(car) not in said.err
    assert "buildlog itself failed (ValueError in cli/show.py, line" in said.err
    assert "read the output, and send what may leave" in " ".join(said.err.split())


def test_debug_text_says_what_it_holds(car: Path) -> None:
    script = ("from buildlog.report.as_text import show_text\n"
              "show_text.show_lines = lambda *_: 1 / 0\n"
              "from buildlog.cli.main import run\nrun(['show'])\n")  # fmt: skip
    told = subprocess.run(
        [sys.executable, "-c", script], cwd=car, capture_output=True, text=True, check=False,
        env={**os.environ, "BUILDLOG_DEBUG": "1", "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    before, _, after = told.stderr.partition("Traceback")
    assert "may hold values of the car, its VIN and names of folders" in before
    assert "ZeroDivisionError" in after


@pytest.mark.parametrize("where", [".", "..", "/"])
def test_a_handover_to_a_folder_that_is_there_is_answered(car: Path, where: str) -> None:
    said = call(car, "handover", where, "--no-pdf")
    assert said.status == 4
    assert "is there already" in said.err


def test_the_index_and_the_config_are_git_s_own(car: Path) -> None:
    git(car, "config", "core.eol", "lf")
    (car / ".git/index").unlink()
    said = " ".join(call(car, "verify").out.split())
    assert said.count("git's own and no evidence") == 2
