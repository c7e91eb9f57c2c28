"""Kills, faults of the disk, and several writers at once: nothing acknowledged is lost.

The methods are general ones: kill at random and at every k-th call, and fail every k-th
call (as SQLite's test suite describes them: reliability page, section 2, opened).
"""

import errno
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import pytest

from buildlog.errors import BuildlogError, ChangedUnderYou, DiskError
from buildlog.store.disk.lock import hold
from buildlog.store.git import packs
from buildlog.store.git.message import EntryFacts
from buildlog.store.ledger import append
from buildlog.store.ledger.append import Recorder
from buildlog.store.ledger.ledger import Ledger
from tests.histories import CAR, SHOP, START, git, history, next_recorder, put, record, usual

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork and SIGKILL")


@pytest.fixture
def place(tmp_path):
    """A folder in memory where there is one: what is judged here does not need a real disk."""
    memory = Path("/dev/shm")
    if not os.access(memory, os.W_OK):
        yield tmp_path
        return
    with tempfile.TemporaryDirectory(dir=memory) as folder:
        yield Path(folder)


def in_child(work):
    """Run `work(write)` in a child; returns its process id and a pipe with what it wrote."""
    reader, writer = os.pipe()
    child = os.fork()
    if child:
        os.close(writer)
        return child, reader
    os.close(reader)
    status = 1
    try:
        work(lambda text: os.write(writer, text.encode()))
        status = 0
    except BaseException as error:
        os.write(writer, f"!{error!r}\n".encode())
    os._exit(status)


def drain(reader):
    with os.fdopen(reader, "rb") as pipe:
        return pipe.read().decode()


def tail(folder):
    """What may never lie about after a write: drafts and git's lock files."""
    left = [*(folder / ".git").rglob("*.lock"), *(folder / ".git").rglob("*.part")]
    return [path for path in left if path.name != "buildlog.lock"]


# --- kills at random ---------------------------------------------------------------------


def keep_recording(folder, start):
    """Record for ever, saying "o" at the objects of an entry and "a" when acknowledged."""

    def work(write):
        write_pack = packs.write

        def noted(git, objects):
            write(f"o {number}\n")
            return write_pack(git, objects)

        packs.write = noted
        number = start
        while True:
            with Ledger.open(folder) as ledger:
                ledger.write_working("car.toml", CAR.replace("1994", str(number)).encode())
                session = f"dyno/{number}/session.toml"
                ledger.write_working(session, b"format = 1\n" * 200)
                ledger.record(EntryFacts(f"n {number}", stage=f"s-{number}"), next_recorder(ledger))
            write(f"a {number}\n")
            number += 1

    return work


def kill_once(folder, start, delay):
    """Start a writer, kill it; returns the last number begun and the acknowledged numbers."""
    child, reader = in_child(keep_recording(folder, start))
    said = b""
    while b"o " not in said:  # it is inside the first entry now
        more = os.read(reader, 100)
        assert more, said
        said += more
    time.sleep(delay)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    lines = (said.decode() + drain(reader)).splitlines()
    assert not [line for line in lines if line.startswith("!")], lines
    acknowledged = [int(line[2:]) for line in lines if line.startswith("a ")]
    begun = [int(line[2:]) for line in lines if line.startswith("o ")]
    return begun[-1], acknowledged


def torn_files(folder):
    """Working files that are neither what was nor what is meant."""
    torn = []
    for path in folder.rglob("*"):
        if ".git" in path.parts or not path.is_file():
            continue
        text = path.read_text()
        year = text.split("year = ")[1].split("\n")[0] if "year = " in text else ""
        meant = CAR.replace("1994", year) if path.name == "car.toml" else "format = 1\n" * 200
        if text != meant:
            torn.append(path)
    return torn


def kills(place, count, seed):
    """Kill writers until `count` were inside a write; what was lost, blocked or torn by all."""
    found = Counter()
    random_ = random.Random(seed)
    reach = 0.01  # seconds; follows the speed of the machine so that most kills fall inside
    number = 1
    folder = None
    turn = -1
    while found["inside the write"] < count:
        turn += 1
        if turn % 25 == 0:
            folder = place / f"car-{turn}"
            history(folder, [put("car.toml", CAR), record("intake", on="2026-01-05")]).close()
        begun, acknowledged = kill_once(folder, number, random_.uniform(0, reach))
        inside = begun not in acknowledged
        reach *= 1.05 if inside else 0.85
        found["inside the write" if inside else "between writes"] += 1
        found["torn"] += len(torn_files(folder))
        with Ledger.open(folder) as ledger:
            subjects = {entry.subject for entry in ledger.entries()}
            found["lost"] += len({f"n {one}" for one in acknowledged} - subjects)
            found["acknowledged"] += len(acknowledged)
            found["recorded, not yet acknowledged"] += inside and f"n {begun}" in subjects
            number = begun + 2
            try:
                put("car.toml", CAR.replace("1994", str(begun + 1)))(_Folder(ledger))
                ledger.record(EntryFacts(f"n {begun + 1}"), next_recorder(ledger))
            except BuildlogError as error:
                found["blocked"] += 1
                print(error)
            found["left behind"] += len(tail(folder))
            missing = {e.stage for e in ledger.entries() if e.stage}
            missing -= ledger.repo.references("refs/tags/stage/").keys()
            found["tags missing"] += len(missing)
        if turn % 5 == 0:
            found["not clean"] += git(folder, "status", "--porcelain") != ""
        if turn % 25 == 24 or found["inside the write"] == count:
            assert "error" not in git(folder, "fsck", "--full", "--strict", "--no-dangling")
    return found


class _Folder:
    def __init__(self, ledger):
        self.folder = ledger.folder


@pytest.mark.parametrize("count", [12, pytest.param(250, marks=pytest.mark.long)])
def test_kills_inside_a_write_lose_nothing(place, count):
    found = kills(place, count, seed=count)
    print(dict(found))
    for harm in ("lost", "blocked", "torn", "left behind", "tags missing", "not clean"):
        assert found[harm] == 0, dict(found)


# --- a kill, and an error, at every k-th call ---------------------------------------------

CALLS = ("replace", "rename", "fsync", "open", "mkdir", "unlink", "utime")


class KthCall:
    """Counts the calls that change the disk, and does something at the k-th."""

    def __init__(self, monkeypatch, at=0, what=None, after=False):
        self.count = 0
        for name in CALLS:
            monkeypatch.setattr(os, name, self._wrapped(getattr(os, name), name, at, what, after))

    def _wrapped(self, real, name, at, what, after):
        def call(*arguments, **named):
            if name == "open" and not self._writes(arguments, named):
                return real(*arguments, **named)
            self.count += 1
            now = self.count == at
            if now and not after:
                what()
            try:
                return real(*arguments, **named)
            finally:
                if now and after:
                    what()

        return call

    @staticmethod
    def _writes(arguments, named):
        flags = arguments[1] if len(arguments) > 1 else named.get("flags", 0)
        return flags & (os.O_WRONLY | os.O_RDWR)


@pytest.fixture
def prepared(place):
    """A ledger with an edit and a new session waiting; fresh copies of it are cheap."""
    folder = place / "prepared"
    usual(folder).close()
    put("car.toml", CAR.replace("9.2", "8.5"))(_At(folder))
    put("dyno/2026-01-09/session.toml", "format = 1\n")(_At(folder))
    return folder


class _At:
    def __init__(self, folder):
        self.folder = folder


def copy_of(prepared, name):
    target = prepared.with_name(name)
    shutil.copytree(prepared, target)
    return target


def record_waiting(folder):
    with Ledger.open(folder) as ledger:
        return ledger.record(EntryFacts("waiting", stage="stage-2"), next_recorder(ledger))


def disk_error_of(work, *arguments):
    try:
        work(*arguments)
    except DiskError as error:
        return error
    return None


def count_calls(prepared):
    folder = copy_of(prepared, "counted")
    with pytest.MonkeyPatch.context() as patch:
        counter = KthCall(patch)
        record_waiting(folder)
    return counter.count


def check_old_or_new(folder):
    """Old: recording works now. New: nothing is left to record. Returns which it was."""
    with Ledger.open(folder) as ledger:
        subjects = [entry.subject for entry in ledger.entries()]
        if subjects[-1] == "waiting":
            assert subjects.count("waiting") == 1
            assert not ledger.propose().change
            ledger.record(EntryFacts("after", kind="check"), next_recorder(ledger))
            state = "new"
        else:
            assert len(subjects) == 3
            ledger.record(EntryFacts("waiting", stage="stage-2"), next_recorder(ledger))
            state = "old"
        assert b"8.5" in ledger.read(ledger.entries()[-1], "car.toml")
        assert "stage-2" in ledger.repo.references("refs/tags/stage/")
    assert tail(folder) == []
    assert git(folder, "status", "--porcelain") == ""
    assert "error" not in git(folder, "fsck", "--full", "--strict", "--no-dangling")
    return state


def test_a_kill_at_every_call_leaves_old_or_new(prepared):
    """Before each and after the last; after one is before the next, as far as the disk knows."""
    states = Counter()
    calls = count_calls(prepared)
    for k in range(1, calls + 2):
        folder = copy_of(prepared, f"killed-{k}")

        def work(write, k=k, folder=folder):
            patch = pytest.MonkeyPatch()
            KthCall(patch, min(k, calls), lambda: os.kill(os.getpid(), signal.SIGKILL), k > calls)
            record_waiting(folder)

        child, reader = in_child(work)
        assert drain(reader) == ""
        assert os.WIFSIGNALED(os.waitpid(child, 0)[1])
        states[check_old_or_new(folder)] += 1
        shutil.rmtree(folder)
    print(calls, "calls:", dict(states))
    assert calls > 25
    assert min(states["old"], states["new"]) > 3


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EIO])
def test_an_error_at_every_call_leaves_old_or_new(prepared, code):
    states = Counter()
    calls = count_calls(prepared)
    for k in range(1, calls + 1):
        folder = copy_of(prepared, f"failed-{k}")

        def fail():
            raise OSError(code, os.strerror(code))

        with pytest.MonkeyPatch.context() as patch:
            KthCall(patch, k, fail)
            error = disk_error_of(record_waiting, folder)
        states["DiskError" if error else "done all the same"] += 1
        recorded = error is None or "is recorded, but" in error.what
        assert error is None or (error.exit_status == 7 and error.hint)
        state = check_old_or_new(folder)
        assert recorded == (state == "new"), (k, state)
        states[state] += 1
        shutil.rmtree(folder)
    print(calls, "calls:", dict(states))
    assert states["DiskError"] > calls / 2


# --- several writers ----------------------------------------------------------------------


def writers(folder, count, each, content):
    """Start `count` processes that append `each` entries; returns what they said."""
    children = []
    for who in range(count):

        def work(write, who=who):
            for number in range(each):
                with Ledger.open(folder) as ledger:
                    try:
                        facts = EntryFacts(f"{who}-{number}")
                        ledger.append(content(who, number), facts, Recorder(SHOP, START))
                    except ChangedUnderYou:
                        write(f"changed {who}-{number}\n")
                    else:
                        write(f"ok {who}-{number}\n")

        children.append(in_child(work))
    said = "".join(drain(reader) for _, reader in children)
    assert [os.waitpid(child, 0)[1] for child, _ in children] == [0] * count, said
    return said.splitlines()


def own_file(who, number):
    return {f"attachments/w{who}/{number}.txt": f"{who} {number}\n".encode()}


@pytest.mark.parametrize(
    ("count", "each"),
    [(2, 25), (6, 8), *(pytest.param(*one, marks=pytest.mark.long) for one in ((2, 60), (8, 25)))],
)
def test_writers_at_once_lose_nothing(place, count, each):
    folder = place / "car"
    history(folder, [put("car.toml", CAR), record("intake", on="2026-01-05")]).close()
    said = writers(folder, count, each, own_file)
    acknowledged = [line[3:] for line in said if line.startswith("ok ")]
    assert len(acknowledged) == count * each
    with Ledger.open(folder) as ledger:
        entries = ledger.entries()
        assert sorted(entry.subject for entry in entries[1:]) == sorted(acknowledged)
        held = ledger.files(entries[-1])
        assert sum(path.startswith("attachments/") for path in held) == count * each
    assert git(folder, "fsck", "--full", "--strict") == ""
    assert git(folder, "status", "--porcelain") == ""


def test_our_writer_beside_a_plain_git(place):
    """Both record until each has done so 12 times; whatever they were told is done stays done."""
    folder = place / "car"
    history(folder, [put("car.toml", CAR), record("intake", on="2026-01-05")]).close()

    def ours(write):
        number = 0
        while number < 12:
            with Ledger.open(folder) as ledger:
                try:
                    facts = EntryFacts(f"o-{number}")
                    ledger.append(own_file(0, number), facts, Recorder(SHOP, START))
                except ChangedUnderYou:
                    continue
            write(f"o-{number}\n")
            number += 1

    def theirs(write):
        number = 0
        while number < 12:
            path = f"attachments/git/{number}.txt"
            put(path, f"{number}\n")(_At(folder))
            try:
                git(folder, "add", path)
                git(folder, "commit", "-q", "-m", f"g-{number}", "--", path)
            except Exception:
                continue
            write(f"g-{number}\n")
            number += 1

    children = [in_child(ours), in_child(theirs)]
    said = "".join(drain(reader) for _, reader in children).split()
    assert [os.waitpid(child, 0)[1] for child, _ in children] == [0, 0], said
    with Ledger.open(folder) as ledger:
        entries = ledger.entries()
        subjects = {entry.subject for entry in entries}
        assert set(said) <= subjects
        held = ledger.files(entries[-1])
        for one in said:
            who = "w0" if one.startswith("o-") else "git"
            assert f"attachments/{who}/{one[2:]}.txt" in held
    assert Counter(one[0] for one in said) == {"o": 12, "g": 12}
    assert "error" not in git(folder, "fsck", "--full", "--strict", "--no-dangling")


# --- the lock -----------------------------------------------------------------------------


def test_the_message_names_the_holder_and_a_dead_holder_holds_nothing(place):
    with usual(place / "car") as ledger:

        def keep(write):
            with hold(ledger.repo.git):
                write("held\n")
                time.sleep(60)

        child, reader = in_child(keep)
        assert os.read(reader, 10) == b"held\n"
        ledger.patience = 0.2
        with pytest.raises(ChangedUnderYou) as caught:
            ledger.record(EntryFacts("x", stage="s"), next_recorder(ledger))
        assert f"held by process {child} of " in caught.value.what
        assert " (since 20" in caught.value.what
        assert caught.value.exit_status == 6
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        os.close(reader)
        assert ledger.record(EntryFacts("x", stage="s"), next_recorder(ledger)).stage == "s"


def test_nothing_of_the_holder_enters_the_ledger(place):
    import getpass
    import platform

    with usual(place / "car") as ledger:
        everything = git(ledger.folder, "log", "-p", "--format=fuller")
        assert not (ledger.folder / ".git/buildlog.holder").exists()
    assert platform.node() not in everything
    assert getpass.getuser() not in everything.replace("fuller", "")


def test_a_lock_of_a_git_at_work_is_not_swept(place, monkeypatch):
    monkeypatch.setattr(append, "_PATIENCE", 0.1)
    with usual(place / "car") as ledger:
        lock = ledger.folder / ".git/index.lock"
        lock.write_bytes(b"")
        put("car.toml", CAR)(_At(ledger.folder))
        with pytest.raises(ChangedUnderYou, match="a git at work in this folder holds a lock"):
            ledger.record(EntryFacts("x"), next_recorder(ledger))
        assert lock.exists()
        assert len(ledger.entries()) == 3
        lock.unlink()
        assert ledger.record(EntryFacts("x"), next_recorder(ledger)).number == 4


def test_a_lock_from_before_the_computer_started_is_swept(place):
    if not sys.platform.startswith("linux"):
        pytest.skip("the time of the last start is only known on Linux")
    with usual(place / "car") as ledger:
        for name in ("index.lock", "refs/heads/main.lock"):
            path = ledger.folder / ".git" / name
            path.write_bytes(b"")
            os.utime(path, (1_000_000_000, 1_000_000_000))
        put("car.toml", CAR)(_At(ledger.folder))
        assert ledger.record(EntryFacts("x"), next_recorder(ledger)).number == 4
        assert tail(ledger.folder) == []
