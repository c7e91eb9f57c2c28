"""The package's layout: RFC 8493 by its own rules, by sha256sum, and against hostile input."""

from __future__ import annotations

import io
import random
import shutil
import subprocess
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from buildlog.errors import DamagedLedger
from buildlog.store.exchange import bag

FILES = {"ledger.bundle": b"not one", "dyno/a/pull-1.csv": b"n,P\n1,2\n", "parts.csv": b""}


@pytest.fixture
def whole() -> bag.Files:
    return bag.bag(FILES, {"Bagging-Date": "2026-11-25"}, {"HOW-TO-CHECK.txt": b"read me\n"})


def test_the_declaration_and_manifests_are_those_of_rfc_8493(whole: bag.Files) -> None:
    """RFC 8493, 2.1.1 and 2.1.3 (from memory): the two lines, the payload under data/, the
    size as octets.files. The package bagit 1.9.0 finds this very bag valid, and one with a file
    changed invalid (tried once, by hand)."""
    assert whole["bagit.txt"] == b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
    size = sum(map(len, FILES.values()))
    assert f"Payload-Oxum: {size}.{len(FILES)}".encode() in whole["bag-info.txt"]
    assert bag.payload(whole) == FILES
    assert bag.check(whole) == []


@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="sha256sum is not on this computer")
def test_sha256sum_accepts_it(whole: bag.Files, tmp_path: Path) -> None:
    bag.write_folder(tmp_path, whole)
    for name in (bag.MANIFEST, bag.TAGMANIFEST):
        subprocess.run(["sha256sum", "--check", "--strict", name], cwd=tmp_path, check=True,
                       capture_output=True)  # fmt: skip
    assert bag.read_folder(tmp_path) == whole


def test_a_flipped_bit_anywhere_is_found(whole: bag.Files) -> None:
    """Every bit of every file."""
    for name, content in whole.items():
        for at in range(8 * len(content)):
            torn = bytearray(content)
            torn[at // 8] ^= 1 << at % 8
            try:
                found = bag.check({**whole, name: bytes(torn)})
            except DamagedLedger:
                continue
            assert found, f"{name}, bit {at}"


def test_a_missing_or_further_file_is_found(whole: bag.Files) -> None:
    for name in whole:
        assert bag.check({key: data for key, data in whole.items() if key != name}), name
    assert bag.check({**whole, "data/more.txt": b"x"})
    assert bag.check({**whole, "more.txt": b"x"})


def test_a_zip_reads_back_and_any_flipped_bit_is_found(whole: bag.Files) -> None:
    data = bag.zipped(whole, "tern")
    assert bag.read_zip(data) == ("tern", whole)
    assert bag.zip_findings(data, "tern", whole) == []
    chance = random.Random(3)
    for at in chance.sample(range(8 * len(data)), 1500):
        torn = bytearray(data)
        torn[at // 8] ^= 1 << at % 8
        try:
            root, files = bag.read_zip(bytes(torn))
        except DamagedLedger:
            continue
        same = [*bag.check(files), *bag.zip_findings(bytes(torn), root, files)]
        assert same, f"bit {at}"


def zip_of(*entries: tuple[str, bytes], mode: int = 0o100644) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in entries:
            member = zipfile.ZipInfo(name)
            member.external_attr = mode << 16
            member.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(member, content)
    return out.getvalue()


HOSTILE: dict[str, Callable[[], bytes]] = {
    "slip": lambda: zip_of(("x/../../evil", b"x")),
    "absolute": lambda: zip_of(("/etc/x", b"x")),
    "backslash": lambda: zip_of(("x/..\\evil", b"x")),
    "drive": lambda: zip_of(("x/C:evil", b"x")),
    "link": lambda: zip_of(("x/a", b"/etc/passwd"), mode=0o120777),
    "folder": lambda: zip_of(("x/a/", b"")),
    "case twins": lambda: zip_of(("x/a", b"1"), ("x/A", b"2")),
    "device": lambda: zip_of(("x/NUL.txt", b"1")),
    "git": lambda: zip_of(("x/.git/config", b"1")),
    "escape": lambda: zip_of(("x/\x1b[31m", b"1")),
    "two folders": lambda: zip_of(("x/a", b"1"), ("y/a", b"2")),
    "bomb": lambda: zip_of(("x/a", bytes(300_000_000))),
    "no zip": lambda: b"PK\x03\x04 and nothing",
}


@pytest.mark.filterwarnings("ignore:Duplicate name")
@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_zip_is_refused(name: str) -> None:
    with pytest.raises(DamagedLedger):
        bag.read_zip(HOSTILE[name]())


def test_too_many_files_are_refused() -> None:
    data = zip_of(*((f"x/{i}", b"") for i in range(30)))
    with pytest.raises(DamagedLedger):
        bag.read_zip(data, bag.BagLimits(files=20))


@pytest.mark.parametrize("line", ["../x", "/etc/x", "a/../../x", "~x/../..", ".git/x", "a\\..\\x"])
def test_an_unsafe_path_in_a_manifest_is_refused(whole: bag.Files, line: str) -> None:
    listed = whole[bag.MANIFEST] + f"{'0' * 64}  {line}\n".encode()
    with pytest.raises(DamagedLedger):
        bag.check({**whole, bag.MANIFEST: listed})


def test_a_link_in_a_folder_is_refused(whole: bag.Files, tmp_path: Path) -> None:
    bag.write_folder(tmp_path, whole)
    (tmp_path / "data" / "link").symlink_to("/etc/passwd")
    with pytest.raises(DamagedLedger):
        bag.read_folder(tmp_path)
