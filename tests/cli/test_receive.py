"""Taking a history over: the taker's signature, and what is refused."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pytest

from buildlog.desk.snapshot import settings
from buildlog.store.ledger.ledger import Ledger
from tests.conftest import Call


@pytest.fixture
def own_key(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A key made by OpenSSH itself, and settings of a test's own that name it."""
    if shutil.which("ssh-keygen") is None:
        pytest.skip("ssh-keygen is not on this computer")
    path = tmp_path / "key"
    subprocess.run(["ssh-keygen", "-q", "-t", "ed25519", "-N", "", "-f", str(path)], check=True)
    monkeypatch.setenv("BUILDLOG_CONFIG", str(tmp_path / "settings.toml"))
    settings.save(settings.Settings(shop="Second Hand Works", signing_key=str(path)))
    return path


@pytest.fixture
def unsigned(tmp_path: Path) -> Path:
    """A car whose history holds no key: the demo as 0.1.0 wrote it."""
    bundle = Path(__file__).parents[1] / "golden" / "demo-0.1.0.bundle"
    folder = tmp_path / "unsigned"
    subprocess.run(["git", "clone", "-q", "-b", "main", str(bundle), str(folder)], check=True)
    return folder


def test_the_taker_signs_and_git_agrees(
    unsigned: Path, buildlog: Call, tmp_path: Path, own_key: Path
) -> None:
    assert buildlog("handover", tmp_path / "a", "--no-pdf", at=unsigned).status == 0
    done = buildlog("receive", tmp_path / "a", tmp_path / "got", "--sign")
    assert done.status == 0, done.err
    with Ledger.open(tmp_path / "got") as ledger:
        newest = ledger.entries()[-1]
        assert newest.kind == "handover"
        assert b'role = "taken"' in ledger.read(newest, "handover/2.toml")
    signers = tmp_path / "signers"
    public = own_key.with_name("key.pub").read_text().split()
    signers.write_text(f'* namespaces="git" {public[0]} {public[1]}\n')
    checked = subprocess.run(
        ["git", "-c", f"gpg.ssh.allowedSignersFile={signers}", "verify-commit", "HEAD"],
        cwd=tmp_path / "got", capture_output=True, text=True, env=dict(os.environ),
    )  # fmt: skip
    assert checked.returncode == 0, checked.stderr


def test_a_signed_handover_tag_is_one_for_git_too(
    unsigned: Path, buildlog: Call, tmp_path: Path, own_key: Path
) -> None:
    assert buildlog("key", "add", "bench 1", at=unsigned).status == 0
    assert buildlog("handover", tmp_path / "a", "--no-pdf", at=unsigned).status == 0
    clone = tmp_path / "clone"
    bundle = tmp_path / "a" / "data" / "ledger.bundle"
    subprocess.run(["git", "clone", "-q", str(bundle), str(clone)], check=True)
    checked = subprocess.run(
        ["git", "-c", f"gpg.ssh.allowedSignersFile={clone}/keys/allowed_signers", "verify-tag",
         "handover/1"], cwd=clone, capture_output=True, text=True,
    )  # fmt: skip
    assert checked.returncode == 0, checked.stderr


def test_without_a_key_nothing_is_made(demo_copy: Path, buildlog: Call, tmp_path: Path) -> None:
    assert buildlog("handover", tmp_path / "a", "--no-pdf", at=demo_copy).status == 0
    done = buildlog("receive", tmp_path / "a", tmp_path / "got", "--sign")
    assert done.status == 8
    assert not (tmp_path / "got").exists()


def test_an_occupied_folder_is_refused(demo_copy: Path, buildlog: Call, tmp_path: Path) -> None:
    assert buildlog("handover", tmp_path / "a", "--no-pdf", at=demo_copy).status == 0
    (tmp_path / "got").mkdir()
    (tmp_path / "got" / "mine.txt").write_text("mine")
    assert buildlog("receive", tmp_path / "a.zip", tmp_path / "got").status == 4
    assert [one.name for one in (tmp_path / "got").iterdir()] == ["mine.txt"]


def test_what_is_not_there_or_no_handover_is_named(buildlog: Call, tmp_path: Path) -> None:
    assert buildlog("receive", tmp_path / "no", tmp_path / "got").status == 3
    (tmp_path / "x.zip").write_bytes(b"hello")
    assert buildlog("receive", tmp_path / "x.zip", tmp_path / "got").status == 5
    (tmp_path / "empty").mkdir()
    assert buildlog("receive", tmp_path / "empty", tmp_path / "got").status == 5
    assert not (tmp_path / "got").exists()


def test_an_editor_finds_the_schema_in_every_copy(buildlog: Call, tmp_path: Path) -> None:
    """What the first line of car.toml names stands beside git's files, in no entry: whoever makes
    a copy makes it, too; where no line names it nothing is written."""
    ours = tmp_path / "ours"
    assert buildlog("new", ours, "--name", "Marrow Tern", "--shop", "W", at=tmp_path).status == 0
    first = (ours / "car.toml").read_text().splitlines()[0]
    assert first.startswith("#:schema ")
    named = first.split(" ", 1)[1]
    said = buildlog("record", "-m", "as it came", "--kind", "found", at=ours)
    assert said.status in (0, 1), said.err
    assert buildlog("sync", tmp_path / "synced", at=ours).status in (0, 1)
    assert buildlog("handover", tmp_path / "left", "--no-pdf", at=ours).status in (0, 1)
    assert buildlog("receive", tmp_path / "left", tmp_path / "got").status in (0, 1)
    for copy in ("synced", "got"):
        assert (tmp_path / copy / named).read_bytes() == (ours / named).read_bytes(), copy


def test_no_schema_is_written_where_no_line_names_it(
    unsigned: Path, buildlog: Call, tmp_path: Path
) -> None:
    assert buildlog("handover", tmp_path / "left", "--no-pdf", at=unsigned).status in (0, 1)
    assert buildlog("receive", tmp_path / "left", tmp_path / "got").status in (0, 1)
    assert not list((tmp_path / "got" / ".git").glob("*schema*"))
