"""Every limit on what others made, to the last one: as much as it passes, one more does not."""

from __future__ import annotations

import dataclasses
import io
import sys
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from buildlog.errors import DamagedLedger
from buildlog.store.exchange import bag, bundle, remote
from buildlog.store.git import ledger_files
from buildlog.store.git.size_limits import LARGE, MB, SizeLimits
from buildlog.store.ledger import entries
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.verify import check_objects
from tests.histories import git, history, put, record
from tests.store.test_limits import changes_of_changes, lay_out

PHOTO = b"\0" * 200_000  # much larger than what it lies in on the disk
STORY = [
    put("car.toml", 'format = 1\n[car]\nname = "Tern"\n'),
    record("intake", kind="found", odometer="88000 mi"),
    put("attachments/a/b/photo.bin", PHOTO),
    record("photo", kind="found"),
]


@pytest.fixture(scope="module")
def car(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ledger of two entries, with a folder in a folder in a folder."""
    folder = tmp_path_factory.mktemp("limits") / "car"
    history(folder, STORY).close()
    return folder


@pytest.fixture(scope="module")
def chained(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ledger with an object that is a change of a change, five times, of 1,000 bytes each."""
    return lay_out(tmp_path_factory.mktemp("chain"), lambda: changes_of_changes(5)) / "car"


def sizes(car: Path, *kinds: str) -> list[int]:
    """The sizes of a ledger's objects of these kinds, as git itself says them."""
    listed = git(
        car, "cat-file", "--batch-all-objects", "--batch-check=%(objecttype) %(objectsize)"
    )
    pairs = [line.split() for line in listed.splitlines()]
    return [int(size) for kind, size in pairs if kind in (kinds or ("commit", "tree", "blob"))]


def packed(car: Path) -> bytes:
    with Ledger.open(car) as ledger:
        return bundle.write(ledger.repo, bundle.references(ledger.repo))


def files_and_folders(car: Path) -> int:
    return len(git(car, "ls-tree", "-r", "-t", "main").splitlines())


def of_disk(car: Path) -> int:
    return sum(p.stat().st_size for p in (car / ".git/objects").rglob("*") if p.is_file())


def received(car: Path, place: Path) -> None:
    """Everything of a car, found for another folder that holds nothing."""
    with Ledger.open(car) as ours, Ledger.create(place / "empty") as empty:
        tip = ours.repo.tip()
        assert tip is not None
        list(remote.missing(ours.repo, empty.repo, tip))


def tree_of(ledger: Ledger) -> str:
    return ledger.entries()[-1].tree


def seen(ledger: Ledger) -> None:
    tip = ledger.repo.tip()
    assert tip is not None
    found = check_objects.objects(ledger.repo, entries.graph(ledger.repo, tip), set())
    for finding in found:
        raise DamagedLedger(finding.text)


def opened(act: Callable[[Ledger], object]) -> Callable[[Path, Path], None]:
    def run(car: Path, place: Path) -> None:
        with Ledger.open(car) as ledger:
            act(ledger)

    return run


def every_object(ledger: Ledger) -> None:
    for name in ledger.repo.objects:
        ledger.repo.objects.get_raw(name)


# the limit: how much of it the car has, as git or the file says, and what reads as much
Case = tuple[str, Callable[[Path], int], Callable[[Path, Path], Any]]
CASES: dict[str, Case] = {
    "objects in a bundle": (
        "objects", lambda car: len(sizes(car)), lambda car, _: bundle.read(packed(car))),
    "bytes in a bundle": (
        "all", lambda car: sum(sizes(car)), lambda car, _: bundle.read(packed(car))),
    "an object in a bundle": (
        "one", lambda car: max(sizes(car)), lambda car, _: bundle.read(packed(car))),
    "a bundle's references": (
        "header", lambda car: packed(car).index(b"\n\n") + 2,
        lambda car, _: bundle.read(packed(car))),
    "files of a version": (
        "files", files_and_folders, opened(lambda it: it.repo.files(tree_of(it)))),
    "new files of a version": (
        "files", files_and_folders, opened(lambda it: it.repo.news(None, tree_of(it)))),
    "folders in folders": ("depth", lambda _: 3, opened(lambda it: it.repo.files(tree_of(it)))),
    "new folders in folders": (
        "depth", lambda _: 3, opened(lambda it: it.repo.news(None, tree_of(it)))),
    "folders that verify looks at": ("depth", lambda _: 3, opened(seen)),
    "folders that sync looks at": ("depth", lambda _: 3, received),
    "entries": ("commits", lambda _: 2, opened(lambda it: it.entries())),
    "entries on the other side": ("commits", lambda _: 2, received),
    "objects that one side lacks": ("missing", lambda car: len(sizes(car)), received),
    "bytes that one side lacks": (
        "all", lambda car: sum(sizes(car, "tree", "blob")), received),
    "a commit or a list of names": (
        "listing", lambda car: max(sizes(car, "commit", "tree")), opened(every_object)),
    "an object in a file of its own": (
        "one", lambda car: max(sizes(car)), opened(every_object)),
    "bytes on the disk": (
        "growth", lambda car: -(-sum(sizes(car, "blob")) // of_disk(car)),
        opened(lambda it: it.repo.objects.refuse_bombs())),
}  # fmt: skip


def limited(patch: pytest.MonkeyPatch, **changed: int) -> None:
    """These limits wherever the store asks for them; what only adds to one is taken away."""
    most = replace(SizeLimits(), **({"all": 0} if "growth" in changed else {}), **changed)
    for name, module in list(sys.modules.items()):
        if name.startswith("buildlog.store.") and hasattr(module, "limits"):
            patch.setattr(module, "limits", lambda: most)


@pytest.mark.parametrize("what", CASES)
def test_as_much_passes_and_one_more_does_not(
    what: str, car: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    name, count, act = CASES[what]
    most = count(car)
    limited(monkeypatch, **{name: most})
    act(car, tmp_path / "enough")
    limited(monkeypatch, **{name: most - 1})
    with pytest.raises(DamagedLedger):
        act(car, tmp_path / "too much")


def test_every_limit_has_its_case() -> None:
    named = {name for name, _, _ in CASES.values()} | {"chain"}
    assert named == {one.name for one in dataclasses.fields(SizeLimits)}


@pytest.mark.parametrize(("limit", "most"), [("chain", 5), ("one", 1_000)])
def test_changes_of_changes(
    limit: str, most: int, chained: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    limited(monkeypatch, **{limit: most})
    opened(every_object)(chained, chained)
    limited(monkeypatch, **{limit: most - 1})
    with pytest.raises(DamagedLedger):
        opened(every_object)(chained, chained)


def test_a_pack_from_a_server(monkeypatch: pytest.MonkeyPatch) -> None:
    limited(monkeypatch, all=10)
    pack = remote._Pack()
    pack.write(b"x" * 4)
    pack.write(b"x" * 6)
    with pytest.raises(DamagedLedger):
        pack.write(b"x")


def test_the_limits_themselves() -> None:
    """Every change of one is meant. A pack's chain is the most that git makes (the documentation
    of `git pack-objects --depth`)."""
    assert dataclasses.astuple(SizeLimits()) == (
        32 * MB, 4 * MB, 256 * MB, 20_000, 200_000, 20_000, 100_000, 16, 4_095, 200, 256 * 1024,
    )  # fmt: skip
    assert all(
        large >= usual
        for large, usual in zip(
            dataclasses.astuple(LARGE), dataclasses.astuple(SizeLimits()), strict=True
        )
    )
    assert dataclasses.astuple(bag.BagLimits()) == (20_000, 256 * MB, 768 * MB, 400)
    assert ledger_files.LARGEST_FILE == 25 * MB


# packages

HELD = {"a.txt": b"x" * 3, "b/c.txt": b"x" * 4}
BAGS = {"files": 2, "one": 4, "all": 7}


@pytest.mark.parametrize("limit", BAGS)
@pytest.mark.parametrize("form", ["folder", "zip"])
def test_a_package_holds_as_much_and_no_more(form: str, limit: str, tmp_path: Path) -> None:
    bag.write_folder(tmp_path, HELD)

    def read(most: int) -> bag.Files:
        limits = replace(bag.BagLimits(), **{limit: most})
        if form == "folder":
            return bag.read_folder(tmp_path, limits)
        return bag.read_zip(bag.zipped(HELD, "x"), limits)[1]

    assert read(BAGS[limit]) == HELD
    with pytest.raises(DamagedLedger, match="larger than any handover"):
        read(BAGS[limit] - 1)


@pytest.mark.parametrize("size", [MB, MB + 1])
def test_what_a_package_unpacks_to(size: int) -> None:
    """Up to a megabyte nobody asks; beyond it the size it is packed to counts."""
    data = bag.zipped({"a": bytes(size)}, "x")
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        packed_to = archive.infolist()[0].compress_size
    ratio = -(-size // packed_to)
    assert bag.read_zip(data, bag.BagLimits(ratio=ratio))[1] == {"a": bytes(size)}
    if size == MB:
        assert bag.read_zip(data, bag.BagLimits(ratio=ratio - 1))[1] == {"a": bytes(size)}
        return
    with pytest.raises(DamagedLedger, match="times its size"):
        bag.read_zip(data, bag.BagLimits(ratio=ratio - 1))


# names


@pytest.mark.parametrize(
    ("longest", "more"),
    [("attachments/" + "é" * 114, "x"), ("attachments/" + "a/" * 6 + "b", None)],
)
def test_a_name_as_long_and_a_folder_as_deep(longest: str, more: str | None) -> None:
    """240 bytes, not letters; eight folders and files one in the other."""
    assert ledger_files.refusal(longest) is None
    assert ledger_files.kind_of(longest) == "attachment"
    if more:
        assert "240 bytes" in str(ledger_files.refusal(longest + more))
    else:
        assert ledger_files.kind_of(longest.replace("b", "b/c")) is None
