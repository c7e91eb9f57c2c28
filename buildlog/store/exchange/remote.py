"""The other side of a `sync`: a folder here, or a git server (`server`).

Both are asked for their names and for the objects we lack, and both take a new state only
if theirs is still the one we saw. Nothing of theirs is run, and no configuration is read.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from dulwich.objects import Commit, ShaFile, Tag, Tree

from buildlog.errors import ChangedUnderYou, DamagedLedger, InvalidInput, NotFound, UsageError
from buildlog.store.disk import atomic
from buildlog.store.disk.lock import hold
from buildlog.store.exchange.other_side import MOST_NAMES, Moves, OtherSide, RemoteOffer
from buildlog.store.git import index
from buildlog.store.git.ordering import named_first, names
from buildlog.store.git.repo import MAIN, Repo
from buildlog.store.git.size_limits import limits, refuse_bytes, refuse_more
from buildlog.store.ledger import append
from buildlog.store.ledger.ledger import Ledger

if TYPE_CHECKING:
    from buildlog.store.git.transport import Ask

# HOST:PATH, as ssh's own commands take it; one letter is a drive of Windows.
_SCP = re.compile(r"([\w.][\w.-]*@)?[\w.][\w.-]+:[^-].*")
_URL = re.compile(r"(ssh|https|git\+ssh)://[^-/][^/]*/.+")


def remote(named: str, ask: Ask | None = None, *, attended: bool = False) -> OtherSide:
    """The other side that a text names. `ask`: who is asked for a password."""
    way = re.match(r"([\w+.-]+):(//|:)", named)
    is_scp = _SCP.fullmatch(named) and not way and not Path(named).exists()
    if _URL.fullmatch(named) or is_scp:
        from buildlog.store.exchange.server import Server

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
            return put(ledger.repo, rest, objects) if rest else {}


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
    with hold(repo.git, doing="writing the names") as held:
        repo.add(objects)
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
    folder.mkdir(exist_ok=True)
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
