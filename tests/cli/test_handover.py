"""A handover from end to end: what leaves, what stays, and that the next owner can go on."""

from __future__ import annotations

import csv
import io
import json
import re
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from buildlog.store.exchange import bag, bundle, passing_on
from buildlog.store.ledger.ledger import Ledger
from tests.conftest import Call

TO = "the next owner"


def git(*arguments: str | Path, at: Path) -> str:
    done = subprocess.run(["git", *map(str, arguments)], cwd=at, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return done.stdout


def ids(folder: Path) -> list[str]:
    with Ledger.open(folder) as ledger:
        return [entry.id for entry in ledger.entries()]


@pytest.fixture(scope="module")
def package(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo handed over once, without PDF; the zip lies beside it. For reading only."""
    from click.testing import CliRunner

    from buildlog.cli.main import cli

    folder = tmp_path_factory.mktemp("handed")
    shutil.copytree(demo, folder / "ledger")
    arguments = ["handover", str(folder / "tern"), "--no-pdf", "--to", TO, "--ledger",
                 str(folder / "ledger")]  # fmt: skip
    done = CliRunner().invoke(cli, arguments, catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return folder / "tern"


def test_the_package_holds_what_the_design_says(package: Path) -> None:
    files = bag.read_folder(package)
    assert bag.check(files) == []
    names = set(bag.payload(files))
    assert {"ledger.bundle", "booklet.html", "history.json", "parts.csv"} <= names
    assert "dyno/2026-05-09-stage-2/pulls.txt" in names
    assert "plots/power-history.svg" in names
    assert bag.read_zip(package.with_name("tern.zip").read_bytes()) == ("tern", files)


def test_git_and_sha256sum_are_enough(package: Path, tmp_path: Path) -> None:
    """The commands of HOW-TO-CHECK.txt, as they stand there, with nothing of ours."""
    shutil.copytree(package, tmp_path / "tern")
    text = (package / "HOW-TO-CHECK.txt").read_text()
    commands = [line.strip() for line in text.splitlines() if line.startswith("     ")]
    commands = [re.sub(r"\s{3,}must print.*", "", one) for one in commands]
    typed = [one for one in commands if one.startswith(("sha256sum", "git", "cat"))]
    plain = [one for one in typed if not one.endswith("\\")]
    assert len(plain) == 8
    for one in plain:
        done = subprocess.run(
            one, shell=True, cwd=tmp_path / "tern", capture_output=True, text=True
        )
        assert done.returncode == 0, (one, done.stderr)
    head = git("rev-parse", "HEAD", at=tmp_path / "tern" / "ledger").strip()
    assert head in text


def test_the_tag_lists_every_file_that_left(package: Path, tmp_path: Path) -> None:
    git("clone", "-q", package / "data" / "ledger.bundle", tmp_path / "c", at=tmp_path)
    said = git("cat-file", "tag", "handover/1", at=tmp_path / "c")
    listed = set(re.findall(r"^[0-9a-f]{64}  (.+)$", said, re.MULTILINE))
    assert listed == set(bag.payload(bag.read_folder(package))) - {"ledger.bundle"}


def test_a_dry_run_writes_nothing(demo_copy: Path, buildlog: Call, tmp_path: Path) -> None:
    before = ids(demo_copy)
    done = buildlog("handover", tmp_path / "out", "--dry-run", at=demo_copy)
    assert done.status == 0
    for word in ("leaves:", "stays:", "proves:", "cannot:"):
        assert word in done.out
    assert "Privacy search: nothing found" in " ".join(done.out.split())
    assert not (tmp_path / "out").exists()
    assert ids(demo_copy) == before


def test_the_next_owner_goes_on_and_hands_over_again(
    demo_copy: Path, buildlog: Call, tmp_path: Path
) -> None:
    """handover, receive, record, handover, receive: the first owner's ids stay the same."""
    assert buildlog("handover", tmp_path / "a", "--no-pdf", at=demo_copy).status == 0
    assert buildlog("receive", tmp_path / "a.zip", tmp_path / "second").status == 0
    first = ids(demo_copy)
    assert ids(tmp_path / "second") == first
    assert git("status", "--short", at=tmp_path / "second") == ""
    second = tmp_path / "second"
    buildlog("set", 'tyres.pressure="2.4 bar"', at=second)
    done = buildlog("record", "-m", "tyre pressure as the new owner drives", at=second)
    assert done.status == 0, done.err
    assert buildlog("handover", tmp_path / "b", "--no-pdf", at=second).status == 0
    assert buildlog("receive", tmp_path / "b", tmp_path / "third").status == 0
    last = ids(tmp_path / "third")
    assert last[: len(first)] == first
    assert len(last) == len(first) + 2
    history = json.loads((tmp_path / "b" / "data" / "history.json").read_text())
    assert [one["number"] for one in history["custody"]] == [1, 2]
    assert history["custody"][1]["from_entry"] == last[len(first)]
    git("fsck", "--strict", at=tmp_path / "third")


def test_a_handover_that_was_cut_short_is_gone_on_with(
    demo_copy: Path, buildlog: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(passing_on, "write", fail)
    assert buildlog("handover", tmp_path / "a", "--no-pdf", at=demo_copy).status == 7
    monkeypatch.undo()
    monkeypatch.setattr(bundle, "write", fail)
    entries = len(ids(demo_copy))
    assert not (tmp_path / "a").exists()
    monkeypatch.undo()
    assert buildlog("handover", tmp_path / "a", "--no-pdf", at=demo_copy).status == 0
    assert len(ids(demo_copy)) in (entries, entries + 1)


def test_an_occupied_place_is_refused_before_anything_is_recorded(
    demo_copy: Path, buildlog: Call, tmp_path: Path
) -> None:
    (tmp_path / "out.zip").write_bytes(b"")
    before = ids(demo_copy)
    assert buildlog("handover", tmp_path / "out", "--no-pdf", at=demo_copy).status == 4
    assert ids(demo_copy) == before


@pytest.mark.parametrize("broken", [False, True])
def test_without_anything_that_makes_pdfs_the_package_is_whole_and_says_so(
    demo_copy: Path, buildlog: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, broken: bool
) -> None:
    """No PDF maker, or a browser that makes nothing: a note, the rest, and status 0."""
    from buildlog.report.booklet import pdf

    monkeypatch.setattr(pdf, "_weasyprint_is_here", lambda: False)
    monkeypatch.setattr(pdf, "browser", lambda: "/bin/false" if broken else None)
    done = buildlog("handover", tmp_path / "out", at=demo_copy)
    assert done.status == 0
    assert "note: the booklet has no PDF: " in done.out
    assert "buildlog[pdf]" in done.out
    data = tmp_path / "out" / "data"
    assert (data / "booklet.html").exists()
    assert not (data / "booklet.pdf").exists()
    assert buildlog("verify", tmp_path / "out").status == 0


def damaged(package: Path, parts: tuple[float, ...]) -> Iterator[tuple[str, int]]:
    """Bytes of every file of the package, at these parts of its length."""
    for path in sorted(package.rglob("*")):
        if path.is_file() and (size := path.stat().st_size):
            for at in sorted({min(int(part * size), size - 1) for part in parts}):
                yield path.relative_to(package).as_posix(), at


@pytest.mark.parametrize(
    "parts", [(1 / 3,), pytest.param((0, 1 / 3, 1), marks=pytest.mark.long)], ids=["once", "thrice"]
)
@pytest.mark.long
def test_a_bit_flipped_in_any_file_is_found_and_nothing_is_left(
    package: Path, buildlog: Call, tmp_path: Path, parts: tuple[float, ...]
) -> None:
    copy = tmp_path / "tern"
    shutil.copytree(package, copy)
    for name, at in damaged(package, parts):
        path = copy / name
        whole = path.read_bytes()
        path.write_bytes(whole[:at] + bytes([whole[at] ^ 4]) + whole[at + 1 :])
        done = buildlog("receive", copy, tmp_path / "got")
        assert done.status == 5, (name, at, done.out)
        path.write_bytes(whole)
    assert [one.name for one in tmp_path.iterdir()] == ["tern"]


def test_a_file_exchanged_together_with_its_manifests_is_found(
    package: Path, buildlog: Call, tmp_path: Path
) -> None:
    """Whoever makes the manifests anew still cannot change what the tag lists."""
    files = bag.payload(bag.read_folder(package))
    files["booklet.html"] = files["booklet.html"].replace(b"Marrow", b"Marvel")
    forged = bag.bag(files, {"Bagging-Date": "2026-11-25"}, {"HOW-TO-CHECK.txt": b"x\n"})
    bag.write_folder(tmp_path / "tern", forged)
    done = buildlog("receive", tmp_path / "tern", tmp_path / "got")
    assert done.status == 5
    assert "booklet.html" in done.err
    assert not (tmp_path / "got").exists()


def test_the_parts_list_is_one_no_spreadsheet_runs(package: Path) -> None:
    text = (package / "data" / "parts.csv").read_text("utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text)))
    assert {"clutch", "engine"} <= {row["part"] for row in rows}
    assert not [cell for row in rows for cell in row.values() if cell.startswith(("=", "+", "@"))]


FORMULAS = ("=1+1", "+1", "-1+1", "@SUM(A1)", "\t=1", " =1", "'x", "＝1")


@pytest.mark.parametrize("text", FORMULAS)
def test_a_formula_gets_an_apostrophe_and_reads_back(text: str) -> None:
    from buildlog.report.booklet.partslist import guarded

    assert guarded(text) == f"'{text}"
    assert guarded(text)[1:] == text
    assert guarded("T-25") == "T-25"


def test_what_should_not_leave_is_pointed_out(
    demo_copy: Path, buildlog: Call, tmp_path: Path
) -> None:
    """Recorded already, so it cannot be taken out: a person must decide."""
    buildlog("record", "-m", "call the owner at 555-123-4567 or a.b@example.org",
             "--kind", "check", at=demo_copy)  # fmt: skip
    done = buildlog("handover", tmp_path / "out", "--dry-run", at=demo_copy)
    assert "telephone number" in done.out
    assert "e-mail address" in done.out
    assert "555-123" not in done.out


def test_a_package_beyond_the_readers_limits_says_what_the_reader_types(
    demo_copy: Path, tmp_path: Path, buildlog: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    from buildlog.store.exchange import bundle
    from buildlog.store.git.size_limits import SizeLimits

    monkeypatch.setattr(bundle, "SizeLimits", lambda: SizeLimits(objects=20))
    told = buildlog("handover", tmp_path / "out", "--no-pdf", at=demo_copy)
    assert told.status == 0, told.err
    assert "BUILDLOG_LARGE=1" in told.out
    assert "BUILDLOG_LARGE=1" in (tmp_path / "out" / "HOW-TO-CHECK.txt").read_text()


def test_a_cover_stands_on_the_first_page_and_a_photo_in_its_stage(
    demo_copy: Path, buildlog: Call, tmp_path: Path
) -> None:
    image = pytest.importorskip("PIL.Image")
    photo = tmp_path / "front.jpg"
    image.new("RGB", (900, 600), (120, 140, 160)).save(photo)
    assert buildlog("attach", photo, "--folder", "photos", "--cover", at=demo_copy).status == 0
    told = ("--caption", "header flange: gap at port 3, 0.2 mm")
    assert buildlog("attach", photo, "--folder", "photos", *told, at=demo_copy).status == 0
    done = buildlog("record", "-m", "photos", "--odometer", "89541 mi", at=demo_copy)
    assert done.status == 0, done.err
    assert buildlog("handover", tmp_path / "out", "--no-pdf", at=demo_copy).status == 0
    html = (tmp_path / "out" / "data" / "booklet.html").read_text("utf-8")
    first, _, rest = html.partition('<section class="part')
    assert first.count("data:image/jpeg;base64,") == 1
    assert rest.count("data:image/jpeg;base64,") == 3, "two are the demo's own"
    assert re.search(r"<figcaption>\d+\xa0\w+\xa0\d{4}, 89,541 mi</figcaption>", first)
    assert "<figcaption>header flange: gap at port 3, 0.2 mm, " in rest
    whole = sorted(path.name for path in (tmp_path / "out" / "data" / "photos").rglob("*.jpg"))
    ours = {"cover-front.jpg", "header-flange-gap-at-port-3-0.2-mm.jpg"}
    assert ours < {*whole}
