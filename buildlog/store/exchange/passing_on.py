"""Giving a ledger on and taking it over: the tag, the package, the next owner's copy.

The annotated tag `handover/<n>` names the entry that was handed over and lists the SHA-256
of every file that left beside the history. Where the tag is signed, the signature so covers
the whole package.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import shutil
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from dulwich.objects import Commit, ObjectID, Tag

from buildlog.errors import DamagedLedger, InvalidInput, begun
from buildlog.findings import Finding
from buildlog.store.disk import atomic, drafts
from buildlog.store.disk.lock import hold
from buildlog.store.exchange import bag, bundle
from buildlog.store.exchange.bundle import Bundle
from buildlog.store.git import index, ledger_files
from buildlog.store.git.repo import REGULAR
from buildlog.store.ledger import append, editor_schema
from buildlog.store.ledger.append import Recorder, identity
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.ledger.names import HANDOVERS

BUNDLE = "ledger.bundle"
Sign = Callable[[bytes], bytes]  # an object's bytes -> the signature that git expects behind it
_LISTED = re.compile(r"^([0-9a-f]{64})  (\S.*)$", re.MULTILINE)


@dataclass(frozen=True)
class Package:
    """A handover as it came: the bundle, the files beside it, what is wrong with the wrapping."""

    bundle: Bundle
    files: Mapping[str, bytes] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class Received:
    """A history taken over: where it lies now, its length and state, what was found odd."""

    folder: Path
    entries: int
    id: str
    fingerprint: str
    taken_over: bool  # recorded and signed by the new holder
    findings: tuple[Finding, ...]


def tag_message(subject: str, fingerprint: str, payload: Mapping[str, bytes]) -> str:
    """What the tag says: which state left, and the digest of every file that left beside it."""
    listed = "".join(
        f"{hashlib.sha256(content).hexdigest()}  {name}\n"
        for name, content in sorted(payload.items())
        if name != BUNDLE
    )
    return f"{subject}\n\nfingerprint {fingerprint}\n\nSHA-256 of what left beside it:\n{listed}"


def tag(ledger: Ledger, number: int, text: str, by: Recorder, sign: Sign | None = None) -> str:
    """Make the annotated tag `handover/<number>` on the newest entry; its id."""
    made = Tag()
    made.name = f"handover/{number}".encode()
    made.object = (Commit, ObjectID(ledger.newest().encode()))
    made.tagger = identity(by.shop, ledger.id or "")
    made.tag_time, made.tag_timezone = int(by.now.timestamp()), 0
    made.message = text.encode()
    if sign is not None:
        made.message += sign(made.as_raw_string())
    name = HANDOVERS + str(number)
    with hold(ledger.repo.git, doing="tagging the handover") as held, ledger.repo.adding([made]):
        append.move(ledger.repo, held, name, ledger.repo.reference(name), made.id.decode())
    return made.id.decode()


def write(folder: Path, files: Mapping[str, bytes]) -> Path:
    """Write a package as a folder and as a zip beside it, both whole or neither; the zip."""
    bag.refuse_taken(folder)
    archive = folder.with_name(folder.name + ".zip")
    try:
        with _drafted(folder, "writing the package") as draft:
            bag.write_folder(draft, files)
            atomic.replace(archive, bag.zipped(files, folder.name))
    except BaseException:
        archive.unlink(missing_ok=True)
        raise
    return archive


def read(path: Path) -> Package:
    """Read a package (folder or zip) or a bare bundle, within limits. Nothing is unpacked."""
    if path.is_dir():
        files = bag.read_folder(path)
        return _package(files, bag.check(files))
    if path.stat().st_size > bag.BagLimits().all:
        raise DamagedLedger(f"{path.name} is larger than any handover", hint="ask for it again")
    data = path.read_bytes()
    if data.startswith(b"PK"):
        root, files = bag.read_zip(data)
        return _package(files, [*bag.check(files), *bag.zip_findings(data, root, files)])
    return Package(bundle.read(data))


def beside(package: Package, ledger: Ledger) -> list[Finding]:
    """Whether the files beside the bundle are those that the newest handover's tag lists."""
    if not package.files:
        return []
    tags = ledger.repo.references(HANDOVERS)
    newest = max(tags, key=int, default=None)
    if newest is None:
        return [_fault("tag-missing", "the history has no handover tag that lists these files")]
    found = ledger.repo.objects[ObjectID(tags[newest].encode())]
    if not isinstance(found, Tag) or ledger.repo.peel(tags[newest]) != ledger.repo.tip():
        return [_fault("tag-other", f"the tag handover/{newest} is not of the newest entry")]
    said = found.message.decode("utf-8", "replace")
    listed = {name: digest for digest, name in _LISTED.findall(said)}
    here = {
        name: hashlib.sha256(content).hexdigest()
        for name, content in package.files.items()
        if name != BUNDLE
    }
    return [
        _fault("tag-list", f"{name} is not the file that left with this history")
        for name in sorted(listed.keys() | here.keys())
        if listed.get(name) != here.get(name)
    ]


def receive(package: Package, target: Path, judge: Callable[[Ledger], None]) -> None:
    """Make the next owner's ledger. `judge` sees it before it is there and raises to refuse.

    Whatever goes wrong, nothing is left behind.
    """
    if target.is_symlink() or (target.exists() and (not target.is_dir() or any(target.iterdir()))):
        raise InvalidInput(f"{target} is there already and not empty", hint="name another folder")
    with _drafted(target, "making the ledger") as draft:
        open_draft(package.bundle, draft, judge)
        editor_schema.put_if_named(draft)
        if target.exists():
            target.rmdir()


def open_draft(found: Bundle, folder: Path, judge: Callable[[Ledger], None]) -> None:
    """A whole ledger of a bundle in a new folder, judged before its files are laid out."""
    with Ledger.create(folder) as ledger:
        (ledger.repo.git / "buildlog-nonce").unlink()
        bundle.unpack(found, ledger.repo)
        for name, held in found.references.items():
            if name != "HEAD" and not ledger.repo.move(name, None, held):
                raise DamagedLedger(f"the bundle names {name} twice", hint="ask for it again")
        bundle.walk(ledger.repo.objects, found.references.values())
        if ledger.repo.peel(found.tip) != found.tip:
            raise DamagedLedger("its branch main is no entry", hint="ask for it again")
        judge(ledger)
        _lay_out(ledger)


def _lay_out(ledger: Ledger) -> None:
    """Write the known files of the newest entry, and the index that equals it."""
    files = ledger.repo.files_of(ledger.repo.tip())
    stats: dict[bytes, os.stat_result] = {}
    for raw, (mode, object_id) in files.items():
        name = raw.decode("utf-8", "surrogateescape")
        if mode == REGULAR and ledger_files.kind_of(name) and not ledger_files.refusal(name):
            atomic.replace(ledger.folder / name, ledger.repo.blob(object_id))
            stats[raw] = (ledger.folder / name).stat()
    atomic.replace(ledger.repo.git / "index", index.serialised(files, stats))


def _package(files: bag.Files, findings: list[Finding]) -> Package:
    payload = bag.payload(files)
    if BUNDLE not in payload:
        raise DamagedLedger("there is no ledger.bundle in this package", hint="ask for it again")
    return Package(bundle.read(payload[BUNDLE]), payload, tuple(findings))


@contextlib.contextmanager
def _drafted(place: Path, doing: str) -> Iterator[Path]:
    """A new folder that is moved to its place when it is done; whatever goes wrong, it is gone."""
    place = place.absolute()
    drafts.sweep(place.parent)
    draft = place.with_name(drafts.name(place.name))
    begun(f"{place} is made", f"{place} is not made", place.exists)
    try:
        with atomic.disk_errors(doing):
            atomic.make_folder(place.parent)
            draft.mkdir()
            yield draft
            atomic.move_folder(draft, place)
            atomic.fsync_folder(place.parent)
    except BaseException:
        shutil.rmtree(draft, ignore_errors=True)
        raise


def _fault(code: str, text: str) -> Finding:
    return Finding(code, "error", text, hint="ask for the package again")
