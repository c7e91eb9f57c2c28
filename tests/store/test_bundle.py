"""The bundle: git itself accepts it; what is damaged or hostile is refused."""

from __future__ import annotations

import datetime as dt
import hashlib
import random
import subprocess
import zlib
from collections.abc import Callable
from pathlib import Path

import pytest

from buildlog.errors import DamagedLedger
from buildlog.store.exchange import bundle, passing_on
from buildlog.store.git.repo import MAIN
from buildlog.store.ledger.append import Recorder
from buildlog.store.ledger.ledger import Ledger
from tests.counting import bytes_held, lines_run

NOW = dt.datetime(2026, 11, 25, 12, tzinfo=dt.UTC)


@pytest.fixture
def made(demo_copy: Path) -> bytes:
    with Ledger.open(demo_copy) as ledger:
        passing_on.tag(ledger, 1, "handover 1\n", Recorder("Dunmarrow Works", NOW))
        return bundle.write(ledger.repo, bundle.references(ledger.repo))


def git(*arguments: str | Path, at: Path) -> str:
    done = subprocess.run(["git", *map(str, arguments)], cwd=at, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_plain_git_clones_and_checks_it(made: bytes, demo_copy: Path, tmp_path: Path) -> None:
    (tmp_path / "a.bundle").write_bytes(made)
    git("clone", "-q", "a.bundle", "clone", at=tmp_path)
    clone = tmp_path / "clone"
    git("fsck", "--strict", at=clone)
    assert git("rev-parse", "HEAD", at=clone) == git("rev-parse", MAIN, at=demo_copy)
    assert git("cat-file", "-t", "handover/1", at=clone).strip() == "tag"
    assert git("status", "--short", at=clone) == ""


def test_the_same_ledger_gives_the_same_bytes(made: bytes, demo_copy: Path) -> None:
    with Ledger.open(demo_copy) as ledger:
        assert bundle.write(ledger.repo, bundle.references(ledger.repo)) == made


def test_a_bundle_of_gits_own_with_deltas_is_read(demo_copy: Path, tmp_path: Path) -> None:
    git("bundle", "create", tmp_path / "g.bundle", "HEAD", "main", at=demo_copy)
    found = passing_on.read(tmp_path / "g.bundle")
    passing_on.receive(found, tmp_path / "got", lambda ledger: None)
    assert git("rev-parse", "HEAD", at=tmp_path / "got") == git("rev-parse", "main", at=demo_copy)


def test_every_flipped_bit_is_found(made: bytes) -> None:
    """200 random bits of the file; a reference may be renamed by one, which verify then judges."""
    chance = random.Random(7)
    header = made.index(b"\n\n")
    for _ in range(200):
        at = chance.randrange(header, len(made))
        torn = bytearray(made)
        torn[at] ^= 1 << chance.randrange(8)
        with pytest.raises(DamagedLedger):
            bundle.read(bytes(torn))


def test_every_cut_is_found(made: bytes) -> None:
    for at in range(0, len(made), 997):
        with pytest.raises(DamagedLedger):
            bundle.read(made[:at])


def packed(*objects: bytes, count: int | None = None) -> bytes:
    body = b"PACK\0\0\0\2" + (count or len(objects)).to_bytes(4, "big") + b"".join(objects)
    return body + hashlib.sha1(body, usedforsecurity=False).digest()


def headed(pack: bytes, references: bytes = b"1" * 40 + b" refs/heads/main\n") -> bytes:
    return b"# v2 git bundle\n" + references + b"\n" + pack


def blob(data: bytes, size: int | None = None) -> bytes:
    size = len(data) if size is None else size
    out, rest = [], size >> 4
    byte = (3 << 4) | (size & 15)
    while rest:
        out.append(byte | 0x80)
        byte, rest = rest & 0x7F, rest >> 7
    return bytes([*out, byte]) + zlib.compress(data)


HOSTILE: dict[str, Callable[[], bytes]] = {
    "a bomb of 200 MB": lambda: headed(packed(blob(bytes(200_000_000)))),
    "a size that is a lie": lambda: headed(packed(blob(b"x" * 10_000, size=10))),
    "too many objects": lambda: headed(packed(blob(b"x"), count=4_000_000_000)),
    "no objects": lambda: headed(b""),
    "a folder name": lambda: headed(packed(), b"1" * 40 + b" refs/heads/../../x\n"),
    "a hook": lambda: headed(packed(), b"1" * 40 + b" hooks/post-checkout\n"),
    "an escape": lambda: headed(packed(), b"1" * 40 + b" refs/tags/stage/\x1b[31m\n"),
    "a prerequisite": lambda: headed(packed(), b"-" + b"1" * 40 + b" x\n"),
    "main twice": lambda: headed(packed(), (b"1" * 40 + b" refs/heads/main\n") * 2),
    "another HEAD": lambda: headed(
        packed(), b"1" * 40 + b" refs/heads/main\n" + b"2" * 40 + b" HEAD\n"
    ),
    "no end": lambda: b"# v2 git bundle\n" + b"x" * 1_000_000,
    "another form": lambda: b"# v3 git bundle\n@object-format=sha256\n\n",
    "words behind": lambda: headed(packed(blob(b"x")) + b"more"),
}  # fmt: skip


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_bundle_is_refused_with_little_work_and_leaves_nothing(
    name: str, tmp_path: Path
) -> None:
    (tmp_path / "h.bundle").write_bytes(HOSTILE[name]())
    with lines_run() as run, bytes_held() as held, pytest.raises(DamagedLedger):
        passing_on.receive(
            passing_on.read(tmp_path / "h.bundle"), tmp_path / "got", lambda ledger: None
        )
    assert run.number < 100_000
    assert held.number < 100 << 20
    assert [path.name for path in tmp_path.iterdir()] == ["h.bundle"]


def test_an_object_that_is_missing_is_found(tmp_path: Path) -> None:
    (tmp_path / "h.bundle").write_bytes(headed(packed(blob(b"nothing refers to this"))))
    with pytest.raises(DamagedLedger):
        passing_on.receive(
            passing_on.read(tmp_path / "h.bundle"), tmp_path / "got", lambda ledger: None
        )
    assert not (tmp_path / "got").exists()
