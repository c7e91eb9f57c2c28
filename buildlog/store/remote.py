"""The other side of a `sync`: a folder, or a git server over ssh or https.

Both are asked for their tip and for the objects we lack, and both take a new tip only if
theirs is still the one we saw. Nothing of theirs is run, and no configuration is read.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Protocol

from dulwich.object_store import MemoryObjectStore, ObjectStoreGraphWalker
from dulwich.objects import Commit, ObjectID, ShaFile
from dulwich.refs import Ref

from buildlog.errors import (
    ChangedUnderYou,
    DamagedLedger,
    DiskError,
    InvalidInput,
    NotFound,
    UsageError,
)
from buildlog.store import append, atomic, bundle, index
from buildlog.store.ledger import Ledger
from buildlog.store.lock import hold
from buildlog.store.repo import MAIN, Repo
from buildlog.store.sweep import sweep

_URL = re.compile(r"(ssh|https|git\+ssh)://[^-/][^/]*/.+")
_SCP = re.compile(r"[\w.][\w.-]*@[\w.][\w.-]*:[^-].*")


class Remote(Protocol):
    """What both kinds of other side can do."""

    def settle(self) -> None:
        """Finish what an earlier sync that was cut short left half done there."""

    def fetch(self, ours: Repo) -> tuple[str | None, list[ShaFile]]:
        """Their tip, and what we lack of everything it leads to."""

    def push(self, ours: Repo, old: str | None, new: str) -> bool:
        """Move their tip on; False, and nothing done, if it isn't `old` any more."""


def remote(named: str) -> Remote:
    """The other side that a text names."""
    if _URL.fullmatch(named) or _SCP.fullmatch(named):
        return Server(named)
    way = re.match(r"([\w+.-]+):(//|:)", named)
    if way and way.group(1) != "file":
        raise UsageError(
            f"{way.group(1)} is no way to another ledger", hint="a folder, ssh:// or https://"
        )
    return Folder(Path(named.removeprefix("file://")))


class Folder:
    """A ledger's folder, a bare git repository, or a folder that is to become a ledger."""

    def __init__(self, path: Path) -> None:
        self.path = path.absolute()
        self.bare = (self.path / "HEAD").is_file() and (self.path / "objects").is_dir()
        if not self.path.parent.is_dir():
            raise NotFound(f"{self.path.parent} does not exist", hint="is the stick plugged in?")
        if not self.bare and not (self.path / ".git").exists() and _is_taken(self.path):
            raise InvalidInput(
                "this folder is no ledger and not empty", where=str(path), hint="name another one"
            )

    @property
    def _is_new(self) -> bool:
        return not self.bare and not (self.path / ".git" / "HEAD").exists()

    def settle(self) -> None:
        if not self.bare and not self._is_new:
            with Ledger.open(self.path) as ledger:
                ledger.settle()

    def fetch(self, ours: Repo) -> tuple[str | None, list[ShaFile]]:
        if self._is_new:
            return None, []
        with Repo(self.path, bare=self.bare) as theirs:
            tip = theirs.tip()
            return tip, list(_missing(theirs, ours, tip)) if tip else []

    def push(self, ours: Repo, old: str | None, new: str) -> bool:
        if self._is_new:
            _make(self.path)
        with Repo(self.path, bare=self.bare) as theirs:
            if theirs.tip() != old:
                return False
            objects = list(_missing(ours, theirs, new))
            if self.bare:
                return _into_bare(theirs, objects, old, new)
        with Ledger.open(self.path) as ledger:
            return ledger.advance(old, new, objects)


def _is_taken(folder: Path) -> bool:
    return folder.exists() and (not folder.is_dir() or any(folder.iterdir()))


def _make(folder: Path) -> None:
    folder.mkdir(exist_ok=True)
    with Ledger.create(folder) as ledger:
        (ledger.repo.git / "buildlog-nonce").unlink()
        atomic.replace(ledger.repo.git / "index", index.serialised({}, {}))


def _into_bare(theirs: Repo, objects: list[ShaFile], old: str | None, new: str) -> bool:
    with hold(theirs.git) as held, atomic.disk_errors("writing the other repository"):
        sweep(theirs.git, held)
        theirs.add(objects)
        try:
            append.move(theirs, held, MAIN, old, new)
        except ChangedUnderYou:
            return False
        return True


def _missing(source: Repo, target: Repo, tip: str) -> Iterator[ShaFile]:
    """What `target` lacks of everything that `tip` leads to, files before what names them."""
    limits = bundle.Limits()
    found: dict[str, ShaFile] = {}
    waiting = [tip]
    size = 0
    while waiting:
        name = waiting.pop()
        if name in found or target.has(name):
            continue
        commit = source.commit(name)
        found[name] = commit
        waiting += [parent.decode() for parent in commit.parents]
        for item in _below(source, target, commit.tree.decode(), found, 0):
            size += item.raw_length()
            if size > limits.all or len(found) > limits.objects:
                raise DamagedLedger(
                    "the other side holds more than a ledger may", hint="look at what it is"
                )
    yield from reversed(found.values())


def _below(
    source: Repo, target: Repo, tree: str, found: dict[str, ShaFile], depth: int
) -> Iterator[ShaFile]:
    if tree in found or target.has(tree):
        return
    if depth > 16:
        raise DamagedLedger("the other side nests folders too deep", hint="look at what it is")
    found[tree] = source.item(tree)
    yield found[tree]
    for _, mode, oid in source.tree(tree):
        name = oid.decode()
        if mode == 0o040000:
            yield from _below(source, target, name, found, depth + 1)
        elif mode != 0o160000 and name not in found and not target.has(name):
            found[name] = source.item(name)
            yield found[name]


class Server:
    """A git server; `main` there is only ever moved forward."""

    def __init__(self, url: str) -> None:
        from dulwich.client import get_transport_and_path
        from dulwich.config import ConfigFile

        self.url = url
        self.client, self.place = get_transport_and_path(
            url, config=ConfigFile(), thin_packs=False, quiet=True
        )

    def settle(self) -> None:
        return None

    def fetch(self, ours: Repo) -> tuple[str | None, list[ShaFile]]:
        limit = bundle.Limits().all
        pack = io.BytesIO()
        seen: dict[bytes, ObjectID | None] = {}

        def wants(refs: Mapping[Ref, ObjectID], depth: int | None = None) -> list[ObjectID]:
            tip = seen[b"tip"] = refs.get(Ref(MAIN.encode()))
            return [tip] if tip is not None and tip not in ours.objects else []

        def keep(data: bytes) -> int:
            if pack.tell() + len(data) > limit:
                raise DamagedLedger("the server sends more than a ledger may hold")
            return pack.write(data)

        tip = ours.tip()
        walker = ObjectStoreGraphWalker(
            [ObjectID(tip.encode())] if tip else [],
            lambda name: list(ours.commit(name.decode()).parents),
        )
        with _spoken(self.url):
            self.client.fetch_pack(self.place, wants, walker, keep)
        theirs = seen.get(b"tip")
        if theirs is None or not pack.tell():
            return theirs.decode() if theirs else None, []
        return theirs.decode(), _unpacked(theirs, pack.getvalue())

    def push(self, ours: Repo, old: str | None, new: str) -> bool:
        moved = False

        def update(refs: dict[Ref, ObjectID]) -> dict[Ref, ObjectID]:
            nonlocal moved
            there = refs.get(Ref(MAIN.encode()))
            moved = (there.decode() if there else None) != old
            return {} if moved else {Ref(MAIN.encode()): ObjectID(new.encode())}

        with _spoken(self.url):
            done = self.client.send_pack(
                self.place.encode(), update, ours.objects.generate_pack_data, atomic=False
            )
        said = (done.ref_status or {}).get(Ref(MAIN.encode()))
        return not moved and said is None


def _unpacked(tip: bytes, pack: bytes) -> list[ShaFile]:
    """The objects of a pack, after the same look at its sizes as at a bundle's."""
    bundle.read(b"# v2 git bundle\n" + tip + b" " + MAIN.encode() + b"\n\n" + pack)
    store = MemoryObjectStore()
    try:
        file, commit, _ = store.add_pack()
        file.write(pack)
        commit()
        items = [store[name] for name in store]
    except Exception as error:
        raise DamagedLedger(f"what the server sent cannot be read ({error})") from error
    return sorted(items, key=lambda item: isinstance(item, Commit))


class _spoken:
    """Turn whatever goes wrong between two computers into one sentence."""

    def __init__(self, url: str) -> None:
        self.url = re.sub(r"//[^@/]*@", "//", url)  # no password in a message

    def __enter__(self) -> None:
        return None

    def __exit__(self, kind: object, error: BaseException | None, trace: object) -> None:
        from buildlog.errors import BuildlogError

        if error is None or isinstance(error, BuildlogError) or not isinstance(error, Exception):
            return
        raise DiskError(
            f"the server could not be spoken to ({type(error).__name__}: {error})"[:240],
            where=self.url,
            hint="see that `git ls-remote` reaches it; nothing was lost, do it again later",
        ) from error
