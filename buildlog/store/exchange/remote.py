"""The other side of a `sync`: a folder here, or a git server.

Both are asked for their names and for the objects we lack, and both take a new state only
if theirs is still the one we saw. Nothing of theirs is run, and no configuration is read; a
server's names are only ever moved forward.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Protocol

from dulwich.object_store import MemoryObjectStore, ObjectStoreGraphWalker
from dulwich.objects import Commit, ObjectID, ShaFile, Tag, Tree
from dulwich.refs import Ref

from buildlog.errors import ChangedUnderYou, DamagedLedger, InvalidInput, NotFound, UsageError
from buildlog.store.disk import atomic
from buildlog.store.disk.lock import hold
from buildlog.store.exchange import bundle
from buildlog.store.git import index
from buildlog.store.git.ordering import named_first, names
from buildlog.store.git.repo import MAIN, Repo
from buildlog.store.git.size_limits import limits, refuse_bytes, refuse_more
from buildlog.store.git.transport import Ask, ServerLine
from buildlog.store.ledger import append, editor_schema
from buildlog.store.ledger.ledger import Ledger

Move = tuple[str | None, str]  # what a name holds, what it becomes
Moves = Mapping[str, Move]  # by whole names
MOST_NAMES = 5_000
# HOST:PATH, as ssh's own commands take it; one letter is a drive of Windows.
_SCP = re.compile(r"([\w.][\w.-]*@)?[\w.][\w.-]+:[^-].*")
_URL = re.compile(r"(ssh|https|git\+ssh)://[^-/][^/]*/.+")


@dataclass(frozen=True)
class RemoteOffer:
    """The other side's names with what they hold, and the objects behind them that we lack."""

    names: Mapping[str, str] = field(default_factory=dict)
    objects: tuple[ShaFile, ...] = ()

    @property
    def tip(self) -> str | None:
        return self.names.get(MAIN)


class OtherSide(Protocol):
    """What both kinds of other side can do."""

    def settle(self) -> None:
        """Finish what an earlier sync that was cut short left half done there."""

    def fetch(self, ours: Repo, prefixes: tuple[str, ...]) -> RemoteOffer:
        """`main` and the names below these prefixes, and what we lack of what they lead to."""

    def push(self, ours: Repo, moves: Moves) -> dict[str, str]:
        """Set names there, each if it still is what we saw; those that were not set, and why.

        If `main` is among them and has moved on, nothing at all is set.
        """


def remote(named: str, ask: Ask | None = None, *, attended: bool = False) -> OtherSide:
    """The other side that a text names. `ask`: who is asked for a password."""
    way = re.match(r"([\w+.-]+):(//|:)", named)
    is_scp = _SCP.fullmatch(named) and not way and not Path(named).exists()
    if _URL.fullmatch(named) or is_scp:
        return Server(named, ask, attended=attended)
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

    def fetch(self, ours: Repo, prefixes: tuple[str, ...]) -> RemoteOffer:
        if self._is_new:
            return RemoteOffer()
        with Repo(self.path, bare=self.bare) as theirs:
            theirs.refuse_part(where=str(self.path))  # it would be taken for a whole copy
            names = held_names(theirs, prefixes)
            return RemoteOffer(names, tuple(missing(theirs, ours, *names.values())))

    def push(self, ours: Repo, moves: Moves) -> dict[str, str]:
        if self._is_new:
            _make(self.path)
        rest = dict(moves)
        with Repo(self.path, bare=self.bare) as theirs:
            objects = list(missing(ours, theirs, *(new for _, new in moves.values())))
            if self.bare:
                return put(theirs, moves, objects)
        old, new = rest.pop(MAIN, (None, None))
        with Ledger.open(self.path) as ledger:
            if new is not None and not ledger.advance(old, new, objects):
                return dict.fromkeys(moves, "moved on meanwhile")
            editor_schema.put_if_named(self.path)
            return put(ledger.repo, rest, objects) if rest else {}


class StrayLine:
    """A line that stands beside the history in the same repository, as an other side."""

    def __init__(self, tip: str) -> None:
        self.line = tip

    def settle(self) -> None:
        return None

    def fetch(self, ours: Repo, prefixes: tuple[str, ...]) -> RemoteOffer:
        return RemoteOffer({**held_names(ours, prefixes), MAIN: self.line})

    def push(self, ours: Repo, moves: Moves) -> dict[str, str]:
        return {}


def held_names(repo: Repo, prefixes: tuple[str, ...]) -> dict[str, str]:
    """`main` and the names below some prefixes, with what they hold."""
    tip = repo.tip()
    found = {MAIN: tip} if tip else {}
    for prefix in prefixes:
        found |= {prefix + name: held for name, held in repo.references(prefix).items()}
    if len(found) > MOST_NAMES:
        raise DamagedLedger("there are more names than a ledger has", hint="look at what it is")
    return found


def put(repo: Repo, moves: Moves, objects: list[ShaFile]) -> dict[str, str]:
    """Set names, each if it still holds what we saw; `main` first, and without it none."""
    failed: dict[str, str] = {}
    with hold(repo.git, doing="writing the names") as held, repo.adding(objects):
        for name, (old, new) in sorted(moves.items(), key=lambda move: move[0] != MAIN):
            if MAIN in failed or repo.reference(name) == new:
                continue
            try:
                append.move(repo, held, name, old, new)
            except ChangedUnderYou:
                failed[name] = "moved on meanwhile"
    return failed


def _is_taken(folder: Path) -> bool:
    return folder.exists() and (not folder.is_dir() or any(folder.iterdir()))


def _make(folder: Path) -> None:
    atomic.make_folder(folder)
    with Ledger.create(folder) as ledger:
        (ledger.repo.git / "buildlog-nonce").unlink()
        atomic.replace(ledger.repo.git / "index", index.serialised({}, {}))


def missing(source: Repo, target: Repo, *roots: str) -> Iterator[ShaFile]:
    """What `target` lacks of everything that the roots lead to, each after what it names."""
    most = limits()
    found: dict[str, ShaFile] = {}
    waiting = [(root, 0) for root in roots]  # and how many folders deep
    size = commits = 0
    while waiting:
        name, depth = waiting.pop()
        if name in found or target.has(name):
            continue
        item = found[name] = source.item(name)
        if isinstance(item, Commit):
            commits += 1
            refuse_more(commits, most.commits, "entries on the other side")
        elif not isinstance(item, Tag):
            size += item.raw_length()
            refuse_bytes(size, most.all, "what the other side holds")
            refuse_more(len(found), most.missing, "objects that one side lacks")
        if isinstance(item, Tree):
            depth += 1
            refuse_more(depth, source.limits.depth + 1, "folders in folders")
        waiting += [(below.decode(), depth) for below in names(item)]
    yield from named_first(found.values())


class Server:
    """A repository on a server. Every conversation sees its names afresh."""

    def __init__(self, url: str, ask: Ask | None = None, *, attended: bool = False) -> None:
        self.line = ServerLine(url, ask, attended=attended)

    def settle(self) -> None:
        return None

    def fetch(self, ours: Repo, prefixes: tuple[str, ...]) -> RemoteOffer:
        names: dict[str, str] = {}
        pack = _Pack()

        def wants(refs: Mapping[Ref, ObjectID], depth: int | None = None) -> list[ObjectID]:
            names.clear()
            names.update(_chosen(refs, prefixes))
            held = dict.fromkeys(ObjectID(held.encode()) for held in names.values())
            return [name for name in held if name not in ours.objects]

        def talk(client: Any, place: str) -> object:
            pack.empty()
            return client.fetch_pack(place, wants, _walker(ours), pack.write)

        self.line.speak(talk)
        roots = list(names.values())
        return RemoteOffer(names, _unpacked(roots, pack.getvalue()) if pack.tell() else ())

    def push(self, ours: Repo, moves: Moves) -> dict[str, str]:
        failed: dict[str, str] = {}

        def update(refs: Mapping[Ref, ObjectID]) -> dict[Ref, ObjectID]:
            failed.clear()
            held = {name.decode("utf-8", "replace"): oid.decode() for name, oid in refs.items()}
            moved = [name for name, (old, _) in moves.items() if held.get(name) != old]
            failed.update(dict.fromkeys(moves if MAIN in moved else moved, "moved on meanwhile"))
            going = {name: new for name, (_, new) in moves.items() if name not in failed}
            return {Ref(name.encode()): ObjectID(new.encode()) for name, new in going.items()}

        def talk(client: Any, place: str) -> Any:
            give = ours.objects.generate_pack_data
            return client.send_pack(place.encode(), update, give, atomic=False)

        done = self.line.speak(talk)
        for name, why in (done.ref_status or {}).items():
            if why is not None:
                failed[name.decode("utf-8", "replace")] = str(why)
        return failed


class _Pack(io.BytesIO):
    """What a server sends, no more of it than a ledger may hold."""

    def write(self, data: Any) -> int:
        refuse_bytes(self.tell() + len(data), limits().all, "what the server sends")
        return super().write(data)

    def empty(self) -> None:
        self.seek(0)
        self.truncate()


def _chosen(refs: Mapping[Ref, ObjectID], prefixes: tuple[str, ...]) -> dict[str, str]:
    named = ((name.decode("utf-8", "replace"), held) for name, held in refs.items() if held)
    found = {
        name: held.decode()
        for name, held in named
        if (name == MAIN or name.startswith(prefixes)) and not name.endswith("^{}")
    }
    if len(found) > MOST_NAMES:
        raise DamagedLedger("the server has more names than a ledger", hint="look at what it is")
    return found


def _walker(ours: Repo) -> ObjectStoreGraphWalker:
    tip = ours.tip()
    return ObjectStoreGraphWalker(
        [ObjectID(tip.encode())] if tip else [],
        lambda name: list(ours.commit(name.decode()).parents),
    )


def _unpacked(roots: list[str], pack: bytes) -> tuple[ShaFile, ...]:
    """The objects of a pack, after the same look at its sizes as at a bundle's."""
    bundle.read(b"# v2 git bundle\n" + roots[0].encode() + b" " + MAIN.encode() + b"\n\n" + pack)
    store = MemoryObjectStore()
    try:
        file, commit, _ = store.add_pack()
        file.write(pack)
        commit()
        items = [store[name] for name in store]
    except Exception as error:
        raise DamagedLedger(f"what the server sent cannot be read ({error})") from error
    return tuple(sorted(items, key=lambda item: isinstance(item, Commit | Tag)))
