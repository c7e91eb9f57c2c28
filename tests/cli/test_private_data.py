"""Private data at a handover: 24 canaries in a full source, none of them in the package.

The places are those of the project's reliability plan, P1 to P5. The search looks below every
compression there is in such files, and it has to find all 24 in the source, else it proves
nothing of the package.
"""

from __future__ import annotations

import base64
import io
import os
import platform
import re
import shutil
import subprocess
import zipfile
import zlib
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from buildlog.desk.snapshot import settings as own
from buildlog.report.booklet import pdf
from buildlog.store.disk import lock
from buildlog.store.ledger.ledger import Ledger
from tests.cli.dyno_ledger import dyno_ledger
from tests.conftest import Call
from tests.signing import needs_ssh_keygen

Image = pytest.importorskip("PIL.Image", reason="Pillow comes with matplotlib")

CANARIES = {
    "name": "Canaria Wrenfield",
    "phone": "555-018-4417",
    "e-mail": "wrenfield@customer-canary.example",
    "address": "4417 Canary Wharfside Lane",
    "plate": "CNRY 4417",
    "price": "73061.77",
    "note": "canary-note-he-haggles",
    "path": "/srv/canary-path/cars",
    "host": "canary-host-7731",
    "user": "canaryuser7731",
    "key comment": "bench@canary-key-comment",
    "EXIF position": "canary-area-of-the-gps",
    "device serial": "CANARY-CAMERA-7731",
    "bank text": "CNRY 0044 1700 7731",
    "commit e-mail": "w@commit-canary.example",
    "amended text": "canary-amended-message",
    "deleted text": "canary-deleted-before-recording",
    "reflog": "canary-reflog-line",
    "stash": "canary-stashed-words",
    "dangling": "canary-dangling-object",
    "index": "canary-index-name",
    "log file": "canary-log-line",
    "PDF metadata": "Canary PDF Author",
    "HTML comment": "canary html comment",
}


# the search


def everything(*roots: Path) -> bytes:
    """Names and bytes below some places, and what is inside objects, packs, zips, PDFs, images."""
    found = []
    for root in roots:
        for path in [root, *root.rglob("*")] if root.is_dir() else [root]:
            found.append(path.name.encode())
            if path.is_file():
                found += inside(path.read_bytes())
    return b"\n".join(found)


def inside(data: bytes) -> Iterator[bytes]:
    """The bytes, and below them: members of zips, data in pages, every stream of zlib."""
    yield data
    if data.startswith(b"PK"):
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            for member in archive.infolist():
                yield member.filename.encode()
                yield from inside(archive.read(member))
        return
    for held in re.findall(rb"base64,([A-Za-z0-9+/=]{8,})", data):
        yield base64.b64decode(held)
    at = -1
    while (at := data.find(b"\x78", at + 1)) >= 0:  # git's objects and packs, PDF, PNG
        if data[at + 1 : at + 2] in (b"\x01", b"\x5e", b"\x9c", b"\xda"):
            try:
                yield zlib.decompressobj().decompress(data[at:], 4_000_000)
            except zlib.error:
                continue


def found_in(data: bytes, words: dict[str, str] = CANARIES) -> set[str]:
    """Which canaries are there: as UTF-8, or as a PDF writes names (UTF-16)."""
    return {
        place
        for place, word in words.items()
        if word.encode() in data or word.encode("utf-16-be") in data
        or word.encode("utf-16-be").hex().encode() in data.lower()
    }  # fmt: skip


# the source


def photograph() -> bytes:
    """A photo with a position and the camera's serial number, as Pillow writes EXIF."""
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA431] = CANARIES["device serial"]  # BodySerialNumber
    exif.get_ifd(0x8825).update({
        1: "N", 2: (52.0, 30.0, 1.5), 3: "E", 4: (13.0, 24.0, 2.5),
        28: b"ASCII\0\0\0" + CANARIES["EXIF position"].encode(),  # GPSAreaInformation
    })  # fmt: skip
    out = io.BytesIO()
    Image.new("RGB", (16, 16), "gray").save(out, "JPEG", exif=exif)
    return out.getvalue()


def invoice() -> bytes:
    """A PDF whose text is a compressed stream and whose information names an author."""
    text = zlib.compress(f"BT ({CANARIES['address']}) Tj ET".encode())
    return (
        b"%PDF-1.4\n1 0 obj\n<</Length " + str(len(text)).encode() + b"/Filter/FlateDecode>>"
        b"stream\n" + text + b"\nendstream\nendobj\n2 0 obj\n<</Author("
        + CANARIES["PDF metadata"].encode() + b")>>\nendobj\ntrailer<</Info 2 0 R>>\n%%EOF\n"
    )  # fmt: skip


def zipped(name: str, text: str) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(name, text)
    return out.getvalue()


def plant_customer(folder: Path) -> None:
    """What a shop keeps of its customer: beside the ledger, in a folder of its own."""
    folder.mkdir()
    words = CANARIES
    (folder / "customer.txt").write_text(f"{words['name']}\ntel. {words['phone']}\n")
    (folder / "mail.html").write_text(f"<p>{words['e-mail']}</p><!-- {words['HTML comment']} -->")
    (folder / "invoice.pdf").write_bytes(invoice())
    (folder / "papers.zip").write_bytes(zipped("registration.txt", words["plate"]))
    (folder / "bank.csv").write_text(f"account;{words['bank text']}\n")
    (folder / "photo.jpg").write_bytes(photograph())


def plant_in_git(ledger: Path) -> None:
    """What plain git leaves behind: amended and deleted text, stash, logs, index, loose ends."""
    words = CANARIES
    environment = {**os.environ}
    for who in ("AUTHOR", "COMMITTER"):
        environment |= {f"GIT_{who}_NAME": "w", f"GIT_{who}_EMAIL": words["commit e-mail"]}

    def run(*arguments: str, given: str | None = None) -> str:
        done = subprocess.run(["git", *arguments], cwd=ledger, env=environment, check=True,
                              input=given, capture_output=True, text=True)  # fmt: skip
        return done.stdout.strip()

    head, tree = run("rev-parse", "HEAD"), run("rev-parse", "HEAD^{tree}")
    run("config", "core.logAllRefUpdates", "always")
    amended = run("commit-tree", tree, "-p", head, "-m", words["amended text"])
    run("update-ref", "-m", words["reflog"], "refs/heads/main", amended)
    run("update-ref", "-m", "put back", "refs/heads/main", head)
    stashed = run("hash-object", "-w", "--stdin", given=words["stash"])
    tree = run("mktree", given=f"100644 blob {stashed}\tnote.txt\n")
    run("update-ref", "refs/stash", run("commit-tree", tree, "-m", "stash"))
    run("hash-object", "-w", "--stdin", given=words["dangling"])
    (ledger / words["index"]).write_text("x")
    run("add", "--force", words["index"])


def plant_in_working(ledger: Path) -> None:
    """What lies in the folder and no entry holds; text that was deleted before it was recorded."""
    car = ledger / "car.toml"
    before = car.read_bytes()
    car.write_bytes(before + f"# {CANARIES['deleted text']}\n".encode())
    subprocess.run(["git", "add", "car.toml"], cwd=ledger, check=True)  # as a habit from elsewhere
    car.write_bytes(before)
    (ledger / "notes.txt").write_text(CANARIES["note"])
    (ledger / "shop.log").write_text(f"{CANARIES['log file']}\nread {CANARIES['path']}/tern\n")


@pytest.fixture
def source(tmp_path: Path, buildlog: Call, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A shop's folder: the ledger of one car, signed, with a dear plan, and the customer's data."""
    shop = tmp_path / "shop"
    ledger = dyno_ledger(shop / "tern", [("baseline", {"peaks": [100_000, 100_500]})])
    plant_customer(shop / "customer")
    key = shop / "key"
    subprocess.run(["ssh-keygen", "-q", "-t", "ed25519", "-N", "", "-C", CANARIES["key comment"],
                    "-f", str(key)], check=True)  # fmt: skip
    monkeypatch.setenv("BUILDLOG_CONFIG", str(tmp_path / "settings.toml"))
    own.save(own.Settings(shop="Quarry Lane", signing_key=str(key)))
    monkeypatch.setenv("LOGNAME", CANARIES["user"])
    monkeypatch.setattr(platform, "node", lambda: CANARIES["host"])
    for arguments in (
        ("key", "add", "bench 1"),
        ("plan", "new", "dear"),
        ("plan", "set", "dear", f"price={CANARIES['price']}", "currency=EUR",
         "tyres.pressure=2.3 bar"),
        ("attach", shop / "customer" / "photo.jpg", "--folder", "photos"),
        ("record", "-m", "photo of the engine bay", "--kind", "check"),
    ):  # fmt: skip
        done = buildlog(*arguments, at=ledger)
        assert done.status == 0, (arguments, done.err)
    plant_in_git(ledger)
    plant_in_working(ledger)
    with Ledger.open(ledger) as opened, lock.hold(opened.repo.git, 5.0):
        held = (opened.repo.git / lock.HOLDER).read_bytes()  # a computer that lost its power
    (ledger / ".git" / lock.HOLDER).write_bytes(held)
    return shop


# P1


@needs_ssh_keygen
@pytest.mark.parametrize(
    "engine", ["by_browser", pytest.param("by_weasyprint", marks=pytest.mark.long)]
)
def test_24_of_24_are_in_the_source_and_0_of_24_in_the_package(
    source: Path, buildlog: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, engine: str
) -> None:
    assert len(CANARIES) == 24
    if engine == "by_browser" and pdf.browser() is None:
        if os.environ.get("CI") == "true":
            pytest.fail("CI has to bring a browser: the package chromium")
        pytest.skip("no browser of the Chromium family is on this computer")
    if engine == "by_weasyprint" and not pdf._weasyprint_is_here():
        pytest.skip("the extra [pdf], WeasyPrint, is not installed")
    monkeypatch.setattr(pdf, "engine", lambda: getattr(pdf, engine))
    assert found_in(everything(source)) == set(CANARIES)
    done = buildlog("handover", tmp_path / "out", at=source / "tern")
    assert done.status == 0, done.err
    package = everything(tmp_path / "out", tmp_path / "out.zip")
    assert found_in(package) == set()
    assert b"booklet.pdf" in package
    for word in (b"WeasyPrint", b"Chromium", b"HeadlessChrome", b"Skia", str(tmp_path).encode()):
        assert word not in package, word
    public = (source / "key.pub").read_text().split()[1].encode()
    assert public in package, "the key itself leaves: it is what signatures are checked with"


# P2: the ledger holds no commitments to private data at all, so there is nothing to guess
# against: `phone` above is in no form in the package, which P1's search and this one show.


@needs_ssh_keygen
def test_a_thousand_guesses_of_a_telephone_number_confirm_nothing(
    source: Path, buildlog: Call, tmp_path: Path
) -> None:
    """No digest of a number is there either, plain or behind its label."""
    import hashlib

    assert buildlog("handover", tmp_path / "out", "--no-pdf", at=source / "tern").status == 0
    package = everything(tmp_path / "out").lower()
    held = set(re.findall(rb"[0-9a-f]{64}", package))
    guesses = [f"555-018-{number:04d}" for number in range(3917, 4917)]
    assert CANARIES["phone"] in guesses
    for guess in guesses:
        for said in (guess, guess.replace("-", ""), f"tel. {guess}", f"{guess}\n"):
            assert hashlib.sha256(said.encode()).hexdigest().encode() not in held


# P3


@needs_ssh_keygen
def test_the_package_verifies_when_the_private_folder_is_gone(
    source: Path, buildlog: Call, tmp_path: Path
) -> None:
    assert buildlog("handover", tmp_path / "out", "--no-pdf", at=source / "tern").status == 0
    shutil.rmtree(source)
    done = buildlog("verify", tmp_path / "out.zip", at=tmp_path)
    assert "altered" not in done.out
    assert done.status in (0, 1), done.err
    assert buildlog("receive", tmp_path / "out.zip", tmp_path / "next").status == 0


# P4


def test_a_dry_run_lists_what_leaves_and_what_stays(demo: Path, buildlog: Call) -> None:
    """To the letter, as the demo's history has it, but for the fingerprint."""
    done = buildlog("handover", "OUT", "--dry-run", at=demo)
    assert done.status == 0, done.err
    said = re.sub(r"[0-9A-Z]{4}(-[0-9A-Z]{4}){4}-[0-9A-Z]{2}", "FINGERPRINT", done.out)
    assert said == (Path(__file__).parent / "dry_run_of_the_demo.txt").read_text()


def test_text_that_a_later_entry_deleted_still_leaves_and_the_dry_run_says_so(
    demo_copy: Path, buildlog: Call, tmp_path: Path
) -> None:
    """Append-only cuts both ways: nothing can be slipped out, neither can a mistake."""
    word = "canary-recorded-and-deleted"
    car = demo_copy / "car.toml"
    before = car.read_bytes()
    for data in (before + f"# {word}, tel. 555-018-4417\n".encode(), before):
        car.write_bytes(data)
        done = buildlog("record", "-m", "wording", "--kind", "check", at=demo_copy)
        assert done.status == 0, done.err
    done = buildlog("handover", tmp_path / "out", "--dry-run", at=demo_copy)
    said = " ".join(done.out.split())
    assert "10 earlier versions of files: what an entry said and a later one changed" in said
    assert "take out what is recorded" in said
    assert "what looks like a telephone number: car.toml" in said
    assert buildlog("handover", tmp_path / "out", "--no-pdf", at=demo_copy).status == 0
    assert word.encode() in everything(tmp_path / "out")


# P5


PLACES = ("customer.txt", "drafts/offer.html", "attachments/unrecorded.txt", "work.log",
          ".git/description", ".git/logs/HEAD", ".git/COMMIT_EDITMSG")  # fmt: skip


@pytest.mark.long
@settings(max_examples=500, suppress_health_check=list(HealthCheck))
@given(
    word=st.from_regex(r"[A-Za-z0-9 @.+äöü-]{8,30}", fullmatch=True),
    places=st.sets(st.sampled_from(PLACES), min_size=1),
)
def test_no_private_text_leaks_from_any_place(
    word: str, places: set[str], tmp_path_factory: pytest.TempPathFactory
) -> None:
    from buildlog.desk.give.booklet_content import content
    from buildlog.desk.give.packing import payload
    from buildlog.desk.snapshot.opening import recorded
    from buildlog.report.numbers import Display
    from buildlog.store.exchange import bundle

    word = f"canary{word}"
    ledger = tmp_path_factory.mktemp("fuzz") / "tern"
    dyno_ledger(ledger, [])
    for place in places:
        path = ledger / place
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(f"{place}: {word}\n", encoding="utf-8")
    with Ledger.open(ledger) as opened:
        book = recorded(opened)
        files, _ = payload(book, content(book, "Quarry Lane"), Display("metric"), pdf=False)
        files["ledger.bundle"] = bundle.write(opened.repo, bundle.references(opened.repo))
    left = b"\n".join(part for data in files.values() for part in inside(data))
    assert word.encode() not in left
    shutil.rmtree(ledger)
