"""Three owners, one history: who held it from which entry to which, signed by giver and taker;
and a package in which any bit was turned is told from a whole one."""

from __future__ import annotations

import json
import shutil
from itertools import pairwise
from pathlib import Path

import pytest

from buildlog.desk.snapshot import settings
from buildlog.store.ledger.ledger import Ledger
from tests.cli.dyno_ledger import dyno_ledger
from tests.conftest import Call
from tests.signing import make, needs_ssh_keygen


class Owner:
    """A shop with its own settings and its own key."""

    def __init__(self, home: Path, name: str, buildlog: Call, patch: pytest.MonkeyPatch) -> None:
        home.mkdir()
        self.home, self.name, self.call, self.patch = home, name, buildlog, patch
        self.key = make(home, "key")

    def run(self, *arguments: str | Path, at: Path | None = None) -> str:
        self.patch.setenv("BUILDLOG_CONFIG", str(self.home / "settings.toml"))
        settings.save(settings.Settings(shop=self.name, signing_key=str(self.key)))
        done = self.call(*arguments, at=at)
        assert done.status in (0, 1), (arguments, done.err)
        return done.out


@needs_ssh_keygen
def test_three_owners_sign_one_after_the_other(
    tmp_path: Path, buildlog: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    owners = [
        Owner(tmp_path / f"home-{i}", name, buildlog, monkeypatch)
        for i, name in enumerate(("Quarry Lane", "Dunmarrow Works", "Estovale"), 1)
    ]
    here = dyno_ledger(tmp_path / "first", [("base", {"peaks": [100_000]})])
    owners[0].run("key", "add", "bench 1", at=here)
    miles = 88_500
    for number, (giver, taker) in enumerate(pairwise(owners), 1):
        package = tmp_path / f"package-{number}"
        giver.run("handover", package, "--no-pdf", "--to", "the next owner",
                  "--odometer", f"{miles} mi", at=here)  # fmt: skip
        verified = json.loads(taker.run("verify", package, "--json", at=tmp_path))
        assert verified["verdict"] in ("consistent", "intact")
        here = tmp_path / f"owned-{number}"
        taker.run("receive", package, here, "--sign", "--odometer", f"{miles} mi", at=tmp_path)
        taker.run("set", f'tyres.pressure="2.{4 + number} bar"', at=here)
        taker.run("record", "-m", "tyre pressure", "--sign", at=here)
        miles += 1000
    owners[2].run("handover", tmp_path / "last", "--no-pdf", at=here)
    history = json.loads((tmp_path / "last" / "data" / "history.json").read_text())
    chain = history["custody"]
    assert [(one["role"], one["holder"]) for one in chain] == [
        ("given", "Quarry Lane"), ("taken", "Dunmarrow Works"),
        ("given", "Dunmarrow Works"), ("taken", "Estovale"), ("given", "Estovale"),
    ]  # fmt: skip
    assert all(one["signed"] for one in chain), "each by its own key"
    assert len({one["signed"] for one in chain}) == 3
    with Ledger.open(here) as ledger:
        known = [entry.id for entry in ledger.entries()]
    for given, before in ((chain[2], chain[1]), (chain[4], chain[3])):
        assert known.index(given["from_entry"]) == before["entry"] - 1 + 1
    first = json.loads((tmp_path / "package-1" / "data" / "history.json").read_text())
    assert history["ledger"]["id"] == first["ledger"]["id"]
    markup = (tmp_path / "last" / "data" / "booklet.html").read_text()
    for said in ("handed on to the next owner by Quarry Lane", "taken over by Dunmarrow Works"):
        assert said in markup


@pytest.fixture
def package(tmp_path: Path, buildlog: Call) -> Path:
    here = dyno_ledger(tmp_path / "car", [("base", {"peaks": [100_000]})])
    assert buildlog("handover", tmp_path / "tern", "--no-pdf", at=here).status == 0
    return tmp_path / "tern"


def is_whole(buildlog: Call, place: Path) -> bool:
    done = buildlog("verify", place, "--json", at=place.parent)
    if done.status not in (0, 1):
        return False
    said = json.loads(done.out)
    told = {finding["code"] for finding in said["findings"]}  # "zip-rewritten" is a caution
    return said["verdict"] in ("consistent", "intact") and "zip-rewritten" not in told


def turned(path: Path, at: int) -> bytes:
    """Turn one bit of a file; what it was before."""
    whole = path.read_bytes()
    path.write_bytes(whole[:at] + bytes([whole[at] ^ 16]) + whole[at + 1 :])
    return whole


@pytest.mark.parametrize(
    "ends", [False, pytest.param(True, marks=pytest.mark.long)], ids=["middle", "and its ends"]
)
def test_verify_finds_a_bit_turned_in_any_file_of_the_folder(
    package: Path, buildlog: Call, ends: bool
) -> None:
    assert is_whole(buildlog, package)
    for path in sorted(one for one in package.rglob("*") if one.is_file()):
        size = path.stat().st_size
        for at in sorted({size // 2, *((0, size - 1) if ends else ())}):
            whole = turned(path, at)
            assert not is_whole(buildlog, package), (path.name, at)
            path.write_bytes(whole)
    assert is_whole(buildlog, package)


@pytest.mark.parametrize(
    "steps", [120, pytest.param(3000, marks=pytest.mark.long)], ids=["some", "many"]
)
def test_verify_finds_a_bit_turned_anywhere_in_the_zip(
    package: Path, buildlog: Call, steps: int
) -> None:
    archive = package.with_name("tern.zip")
    assert is_whole(buildlog, archive)
    size = archive.stat().st_size
    places = {0, size - 1, *range(0, size, max(1, size // steps))}
    for at in sorted(places):
        whole = turned(archive, at)
        assert not is_whole(buildlog, archive), at
        archive.write_bytes(whole)


def test_a_package_that_was_cut_off_leaves_nothing_behind(
    package: Path, buildlog: Call, tmp_path: Path
) -> None:
    """A copy that was broken off, at many places: before and after, the same files."""
    archive = package.with_name("tern.zip")
    whole = archive.read_bytes()
    shutil.rmtree(package)
    before = sorted(path.name for path in tmp_path.iterdir())
    for part in range(0, 20):
        archive.write_bytes(whole[: len(whole) * part // 20])
        done = buildlog("receive", archive, tmp_path / "got", at=tmp_path)
        assert done.status in (4, 5), (part, done.out)
        assert "Traceback" not in done.err
    assert sorted(path.name for path in tmp_path.iterdir()) == before
