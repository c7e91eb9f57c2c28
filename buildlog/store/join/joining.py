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
from buildlog.records.merge import Conflict, Side
from buildlog.store.git import ledger_files
from buildlog.store.git.repo import REGULAR, Files, Repo
from buildlog.store.join import comments, filemerge
from buildlog.store.trust import keyring
from buildlog.store.trust.keyring import REGISTER, SIGNERS
from buildlog.store.trust.signatures import ancestors

CAR = b"car.toml"
Graph = Mapping[str, tuple[str, ...]]
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

    files: Files = field(default_factory=dict)
    blobs: list[Blob] = field(default_factory=list)
    clashes: list[Clash] = field(default_factory=list)
    renamed: dict[str, str] = field(default_factory=dict)
    comments_left: list[str] = field(default_factory=list)

    def put(self, path: bytes, held: tuple[int, str] | None) -> None:
        if held is not None:
            self.files[path] = held

    def put_text(self, path: bytes, data: bytes) -> None:
        blob = Blob.from_string(data)
        self.blobs.append(blob)
        self.files[path] = (REGULAR, blob.id.decode())


def bases(graph: Graph, one: str, other: str) -> list[str]:
    """The newest commits that both lines have in common; one, but for crossed merges."""
    common = ancestors(graph, one) & ancestors(graph, other)
    older = ancestors(graph, *(parent for name in common for parent in graph[name]))
    return sorted(common - older)


def join(
    repo: Repo, graph: Graph, one: str, other: str, decided: Mapping[str, Side] | None = None
) -> Join:
    """Join two commits; `one` is "ours" in `decided`."""
    decided = decided or {}
    before = [repo.files_of(name) for name in bases(graph, one, other)]
    mine, theirs = repo.files_of(one), repo.files_of(other)
    out = Join()
    twins = dict(_twins(before, mine, theirs))
    for path in sorted(set().union(mine, theirs, *before)):
        was, a, b = _base(before, path), mine.get(path), theirs.get(path)
        if path.decode("utf-8", "surrogateescape") in (REGISTER, SIGNERS):
            continue
        if path in twins:
            _both(out, path, a, b, twins[path])
        elif a == b or b == was:
            out.put(path, a)
        elif a == was:
            out.put(path, b)
        elif a and b and filemerge.form_of(_text(path)):
            texts = [held[path][1] for held in before if path in held]
            _fields(repo, out, path, texts, a, b, decided)
        else:
            _choose(out, path, a, b, decided)
    _keys(repo, out, mine, theirs)
    return out


def _base(before: Sequence[Files], path: bytes) -> tuple[int, str] | None:
    held = {files.get(path) for files in before}
    return held.pop() if len(held) == 1 else (_UNSURE if held else None)


def _choose(
    out: Join,
    path: bytes,
    a: tuple[int, str] | None,
    b: tuple[int, str] | None,
    decided: Mapping[str, Side],
) -> None:
    text = path.decode("utf-8", "surrogateescape")
    side = decided.get(text)
    if side is None:
        out.clashes.append(Clash(text))
    out.put(path, b if side == "theirs" else a)


def _fields(
    repo: Repo,
    out: Join,
    path: bytes,
    before: list[str],
    a: tuple[int, str],
    b: tuple[int, str],
    decided: Mapping[str, Side],
) -> None:
    """Join a file field by field; as one piece where it cannot be taken apart."""
    name = _text(path)
    form = filemerge.form_of(name)
    assert form is not None
    start = _in_file(name)
    own = {
        field.removeprefix(start): side
        for field, side in decided.items()
        if field.startswith(start)
    }
    texts = [repo.blob(one) for one in before]
    try:
        one, other = repo.blob(a[1]), repo.blob(b[1])
        data, open_, _ = filemerge.joined(texts, one, other, own, form)
    except InvalidInput:  # a side that is no valid file, or the two together are none
        _choose(out, path, a, b, decided)
        return
    out.clashes += [Clash(name, one_field) for one_field in open_]
    if data is None:
        out.put(path, a)
        return
    out.put_text(path, data)
    out.comments_left += comments.left_out(min(texts, default=b""), one, other, data)


def _in_file(path: str) -> str:
    """What stands before a field's name where a question is about it; nothing for car.toml."""
    return "" if path == CAR.decode() else f"{path}:"


def _keys(repo: Repo, out: Join, mine: Files, theirs: Files) -> None:
    held = [
        keyring.events(repo.blob(files[REGISTER.encode()][1]))
        for files in (mine, theirs)
        if REGISTER.encode() in files
    ]
    if held:
        events = {event for side in held for event in side}
        out.put_text(REGISTER.encode(), keyring.register_text(events))
        out.put_text(SIGNERS.encode(), keyring.signers_text(events))


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


def _both(
    out: Join,
    path: bytes,
    a: tuple[int, str] | None,
    b: tuple[int, str] | None,
    marks: tuple[str, str],
) -> None:
    """Both files stay: the one with the smaller mark under its name, the other beside it."""
    for held, mark, rest in ((a, marks[0], marks[1]), (b, marks[1], marks[0])):
        if held is None:
            continue
        place = path if mark <= rest else _beside(path, mark)
        if place != path:
            out.renamed[_text(path)] = _text(place)
        out.put(place, held)


def _beside(path: bytes, mark: str) -> bytes:
    text = _text(path)
    session = ledger_files.session_of(text)
    if session is not None:
        return text.replace(f"dyno/{session}/", f"dyno/{session}-{mark}/", 1).encode()
    head, dot, ending = text.rpartition(".")
    return (f"{head}-{mark}.{ending}" if dot and "/" not in ending else f"{text}-{mark}").encode()


def _text(path: bytes) -> str:
    return path.decode("utf-8", "surrogateescape")
