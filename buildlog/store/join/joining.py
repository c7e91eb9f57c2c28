"""Two lines of one history joined: what `sync` makes and what `verify` expects of a merge.

Path by path, by the common ancestor: a file that one side changed is taken from it. Both
sides' sessions, checks and other records stand side by side; two that took one name get
two names, made from their content. car.toml, priors, lists and sessions are joined field
by field, the key register event by event. What both sides changed differently is a clash,
and is never guessed.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from dulwich.objects import Blob

from buildlog.errors import InvalidInput
from buildlog.records.leaf_text import Form
from buildlog.records.merge import Conflict, Side
from buildlog.store.git import ledger_files
from buildlog.store.git.ordering import ancestors
from buildlog.store.git.repo import REGULAR, Files, Repo
from buildlog.store.join import comments, filemerge
from buildlog.store.trust import keyring
from buildlog.store.trust.keyring import REGISTER, SIGNERS

CAR = b"car.toml"
Graph = Mapping[str, tuple[str, ...]]
Held = tuple[int, str] | None  # mode and object id of a file
_UNSURE = (0, "several ancestors")  # equal to no file


@dataclass(frozen=True)
class Clash:
    """Something both sides changed differently: a field of a file, or a whole file."""

    path: str
    field: Conflict | None = None

    @property
    def name(self) -> str:
        """What `decided` and the command line call it."""
        if self.field is None:
            return self.path
        return _in_file(self.path) + self.field.path


@dataclass
class Join:
    """The files of a merge so far, new contents among them, and what is undecided."""

    repo: Repo
    decided: Mapping[str, Side]
    files: Files = field(default_factory=dict)
    blobs: list[Blob] = field(default_factory=list)
    clashes: list[Clash] = field(default_factory=list)
    renamed: dict[str, str] = field(default_factory=dict)
    comments_left: list[str] = field(default_factory=list)

    def put(self, path: bytes, held: Held) -> None:
        if held is not None:
            self.files[path] = held

    def put_text(self, path: bytes, data: bytes) -> None:
        blob = Blob.from_string(data)
        self.blobs.append(blob)
        self.files[path] = (REGULAR, blob.id.decode())

    def choose(self, path: bytes, a: Held, b: Held) -> None:
        """One side's file as a whole, if that was decided."""
        side = self.decided.get(_text(path))
        if side is None:
            self.clashes.append(Clash(_text(path)))
        self.put(path, b if side == "theirs" else a)

    def join_fields(
        self, path: bytes, form: Form, before: list[str], a: tuple[int, str], b: tuple[int, str]
    ) -> None:
        """Join a file field by field; as one piece where it cannot be taken apart."""
        start = _in_file(_text(path))
        own = {
            field.removeprefix(start): side
            for field, side in self.decided.items()
            if field.startswith(start)
        }
        texts = [self.repo.blob(one) for one in before]
        try:
            one, other = self.repo.blob(a[1]), self.repo.blob(b[1])
            data, open_, _ = filemerge.joined(texts, one, other, own, form)
        except InvalidInput:  # a side that is no valid file, or the two together are none
            self.choose(path, a, b)
            return
        self.clashes += [Clash(_text(path), one_field) for one_field in open_]
        if data is None:
            self.put(path, a)
            return
        self.put_text(path, data)
        self.comments_left += comments.left_out(min(texts, default=b""), one, other, data)

    def keep_both(self, path: bytes, a: Held, b: Held, marks: tuple[str, str]) -> None:
        """Both files stay: the one with the smaller mark under its name, the other beside it."""
        for held, mark in zip((a, b), marks, strict=True):
            place = path if mark == min(marks) else _beside(path, mark)
            if held is not None and place != path:
                self.renamed[_text(path)] = _text(place)
            self.put(place, held)

    def join_keys(self, mine: Files, theirs: Files) -> None:
        """The register with the events of both sides, and the list that follows from it."""
        held = [
            keyring.events(self.repo.blob(files[REGISTER.encode()][1]))
            for files in (mine, theirs)
            if REGISTER.encode() in files
        ]
        if held:
            events = {event for side in held for event in side}
            self.put_text(REGISTER.encode(), keyring.register_text(events))
            self.put_text(SIGNERS.encode(), keyring.signers_text(events))


def bases(graph: Graph, one: str, other: str) -> list[str]:
    """The newest commits that both lines have in common; one, but for crossed merges."""
    common = ancestors(graph, one) & ancestors(graph, other)
    older = ancestors(graph, *(parent for name in common for parent in graph[name]))
    return sorted(common - older)


def join(
    repo: Repo, graph: Graph, one: str, other: str, decided: Mapping[str, Side] | None = None
) -> Join:
    """Join two commits; `one` is "ours" in `decided`."""
    before = [repo.files_of(name) for name in bases(graph, one, other)]
    mine, theirs = repo.files_of(one), repo.files_of(other)
    out = Join(repo, decided or {})
    twins = dict(_twins(before, mine, theirs))
    for path in sorted(set().union(mine, theirs, *before)):
        was, a, b = _base(before, path), mine.get(path), theirs.get(path)
        form = filemerge.form_of(_text(path))
        if _text(path) in (REGISTER, SIGNERS):
            continue
        if path in twins:
            out.keep_both(path, a, b, twins[path])
        elif a == b or b == was:
            out.put(path, a)
        elif a == was:
            out.put(path, b)
        elif a and b and form:
            texts = [held[path][1] for held in before if path in held]
            out.join_fields(path, form, texts, a, b)
        else:
            out.choose(path, a, b)
    out.join_keys(mine, theirs)
    return out


def _base(before: Sequence[Files], path: bytes) -> Held:
    held = {files.get(path) for files in before}
    return held.pop() if len(held) == 1 else (_UNSURE if held else None)


def _in_file(path: str) -> str:
    """What stands before a field's name where a question is about it; nothing for car.toml."""
    return "" if path == CAR.decode() else f"{path}:"


# records of both sides under one name


def _twins(
    before: Sequence[Files], mine: Files, theirs: Files
) -> Iterator[tuple[bytes, tuple[str, str]]]:
    """Paths that both sides added with different content; and a mark for each side's file.

    A session is one thing: all files of its folder go together.
    """
    old = set().union(*before) if before else set()
    sessions = {
        ledger_files.session_of(_text(path))
        for path in (mine.keys() & theirs.keys()) - old
        if mine[path] != theirs[path]
    } - {None}
    sessions -= {ledger_files.session_of(_text(path)) for path in old}
    for path in (mine.keys() | theirs.keys()) - old:
        text = _text(path)
        session = ledger_files.session_of(text)
        if session in sessions:
            yield path, (_mark(mine, f"dyno/{session}/"), _mark(theirs, f"dyno/{session}/"))
        elif path in mine and path in theirs and mine[path] != theirs[path] and _is_record(text):
            yield path, (mine[path][1][:8], theirs[path][1][:8])


def _mark(files: Files, folder: str) -> str:
    held = sorted(
        (path, name) for path, (_, name) in files.items() if _text(path).startswith(folder)
    )
    return hashlib.sha256(repr(held).encode()).hexdigest()[:8]


def _is_record(path: str) -> bool:
    kind = ledger_files.kind_of(path)
    return kind in ledger_files.ADD_ONLY and kind not in ("handover", "raw")


def _beside(path: bytes, mark: str) -> bytes:
    text = _text(path)
    session = ledger_files.session_of(text)
    if session is not None:
        return text.replace(f"dyno/{session}/", f"dyno/{session}-{mark}/", 1).encode()
    head, dot, ending = text.rpartition(".")
    return (f"{head}-{mark}.{ending}" if dot and "/" not in ending else f"{text}-{mark}").encode()


def _text(path: bytes) -> str:
    return path.decode("utf-8", "surrogateescape")
