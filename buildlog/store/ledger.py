"""A car's ledger: the facade the command line works with.

Reading needs no write permission and takes no lock. Everything that writes goes through
`record`, `append` or `write_working`, which hold the lock for the whole operation.
Clock, shop and nonce are arguments: the same calls give the same ids on every machine.
"""

from __future__ import annotations

import contextlib
import dataclasses
import secrets
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path

from dulwich.objects import Blob, ShaFile

from buildlog.errors import ChangedUnderYou, InvalidInput, NotFound
from buildlog.store import append, atomic, entries, names, paths, proposal, rules
from buildlog.store.append import Recorder
from buildlog.store.atomic import Locked
from buildlog.store.entries import Entry
from buildlog.store.lock import Held, hold, read_holder
from buildlog.store.message import Facts
from buildlog.store.names import Version
from buildlog.store.proposal import Proposal
from buildlog.store.repo import MAIN, REGULAR, SPOOL, Files, Repo
from buildlog.store.sweep import sweep
from buildlog.store.working import Working, scan
from buildlog.store.working import read as read_file

Prepare = Callable[[Proposal], Facts | None]
STAGES = "refs/tags/stage/"
_NONCE = "buildlog-nonce"
_CONFIG = b"""[core]
\trepositoryformatversion = 0
\tfilemode = false
\tbare = false
\tlogallrefupdates = false
[gc]
\tauto = 0
"""
_ATTRIBUTES = b"# files are evidence: git must not change line ends\n* -text\n"


class Ledger:
    """One ledger. Close it, or use it in a `with`."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.recalls = False  # a long history may come from the index: for looking only
        self.repo = Repo(folder)
        self._known: tuple[str | None, list[Entry], rules.Past] = (None, [], rules.Past())
        self._files: dict[str, dict[str, str]] = {}  # of the tree that was asked for last

    # opening

    @classmethod
    def find(cls, start: Path) -> Ledger:
        """The ledger of a folder or of the nearest one above it: `car.toml` beside a repository."""
        here = start.absolute()
        for folder in (here, *here.parents):
            if (folder / ".git").exists() and (folder / "car.toml").exists():
                return cls(folder)
        raise NotFound(
            f"{start} is not in a ledger",
            hint="go to the car's folder, or name it with --ledger DIR; `buildlog new` starts one",
        )

    @classmethod
    def open(cls, folder: Path) -> Ledger:
        """The ledger in exactly this folder."""
        return cls(folder.absolute())

    @classmethod
    def create(cls, folder: Path, *, nonce: str | None = None) -> Ledger:
        """A new ledger without entries. The nonce makes its id unique; `record` uses it once."""
        git = folder / ".git"
        if (git / "HEAD").exists():  # written last: without it an earlier attempt was cut short
            raise InvalidInput(
                "there is a repository in this folder already",
                where=str(folder),
                hint="choose another",
            )
        with atomic.disk_errors("making the ledger"):
            for name in ("objects/info", "objects/pack", "refs/heads", "refs/tags", "info"):
                (git / name).mkdir(parents=True, exist_ok=True)
            atomic.replace(git / "config", _CONFIG)
            atomic.replace(git / "info" / "attributes", _ATTRIBUTES)
            atomic.replace(git / _NONCE, (nonce or secrets.token_hex(16)).encode())
            atomic.replace(git / "HEAD", f"ref: {MAIN}\n".encode())
        return cls(folder.absolute())

    def __enter__(self) -> Ledger:
        return self

    def __exit__(self, *exc: object) -> None:
        self.close()

    def close(self) -> None:
        self.repo.close()

    # reading

    @property
    def id(self) -> str | None:
        """The ledger's id: the id of entry 1; None before anything is recorded."""
        known = self.entries()
        return known[0].id if known else None

    def entries(self) -> list[Entry]:
        """All entries, first to last."""
        return list(self._history()[1])

    def resolve(self, name: str) -> Version:
        """The version a name means (design: naming a version on the command line)."""
        return names.resolve(name, self._history()[1], self.repo, self.adds_session)

    def files(self, version: Version | Entry) -> dict[str, str]:
        """The recorded paths of a version, each with the object id of its content."""
        if version.tree is None:
            return dict(sorted(scan(self.folder).files.items()))
        if version.tree not in self._files:
            self._files = {version.tree: _recorded(self.repo.files(version.tree))}
        return dict(self._files[version.tree])

    def news(self, entry: Entry, before: Entry | None) -> dict[str, str]:
        """The recorded paths that an entry has and another has not, or has with other bytes."""
        old = before.tree if before else None
        return {} if old == entry.tree else _recorded(self.repo.news(old, entry.tree))

    def content_id(self, version: Version | Entry, path: str) -> str | None:
        """The object id of one recorded file; None where it is not recorded."""
        if version.tree is None or paths.kind_of(path) is None or paths.refusal(path):
            return None
        found = self.repo.find(version.tree, path.encode("utf-8", "surrogateescape"))
        return found[1] if found and found[0] == REGULAR else None

    def read(self, version: Version | Entry, path: str) -> bytes:
        """The bytes of one recorded file; from the disk for working."""
        if version.tree is None:
            if paths.kind_of(path) is None or not (self.folder / path).exists():
                raise NotFound(f"{path} is not in the working files")
            return read_file(self.folder, path)
        blob = self.content_id(version, path)
        if blob is None:
            raise NotFound(f"{path} is not recorded in {_label(version)}")
        return self.repo.blob(blob)

    def sessions_added(self, entry: Entry) -> list[str]:
        """The sessions that first appear in an entry, by name."""
        before: set[str] = set()
        for parent in entry.parents:
            before |= self._sessions(self.repo.commit(parent).tree.decode()).keys()
        return sorted(self._sessions(entry.tree).keys() - before)

    def adds_session(self, entry: Entry) -> bool:
        return bool(self.sessions_added(entry))

    def working(self) -> Working:
        """What a scan of the folder finds: files, refused names, what is left alone."""
        return scan(self.folder)

    def propose(self) -> Proposal:
        """What `record` would record now. Reads only; nothing is held."""
        return self._proposal()

    # writing

    def record(
        self,
        facts: Facts,
        by: Recorder,
        *,
        prepare: Prepare | None = None,
        expect: str | None = None,
        timeout: float = 30.0,
    ) -> Entry:
        """Record the working files as one entry and return it once no power cut can take it.

        `prepare` sees the proposal under the lock; it raises to refuse, and may return the
        facts completed (`changed`, `measured`). `expect` is the tip the caller has shown:
        ChangedUnderYou if another entry was recorded since.
        """
        with self._writing(timeout) as held, append.index_lock(self.repo, held) as lock:
            meant = self._proposal()
            _refuse_moved(meant, expect)
            meant.refuse_unrecordable()
            facts = (prepare(meant) if prepare else None) or facts
            _refuse_nothing(facts, meant)
            return self._add(held, lock, meant, facts, by)

    def append(
        self,
        changes: Mapping[str, bytes | None],
        facts: Facts,
        by: Recorder,
        *,
        prepare: Prepare | None = None,
        expect: str | None = None,
        timeout: float = 30.0,
    ) -> Entry:
        """Record given files (None: remove) on the tip; edits in the folder stay unrecorded."""
        with self._writing(timeout) as held, append.index_lock(self.repo, held) as lock:
            base = self._proposal()
            _refuse_moved(base, expect)
            meant = proposal.with_changes(base, changes)
            facts = (prepare(meant) if prepare else None) or facts
            return self._add(held, lock, meant, facts, by)

    def advance(
        self, old: str | None, new: str, objects: Sequence[ShaFile], timeout: float = 30.0
    ) -> bool:
        """Go on to a commit that follows `old` and was made elsewhere; the folder goes along.

        False, and nothing done, if `main` isn't `old` any more. ChangedUnderYou if an edit
        that is not recorded stands in the way.
        """
        with self._writing(timeout) as held, append.index_lock(self.repo, held) as lock:
            if self.repo.tip() != old:
                return False
            self.repo.add(objects)
            files, step = proposal.step_to(self.repo, self.folder, old, new)
            for path in step.write + step.drop:
                place = self.folder / path.decode("utf-8", "surrogateescape")
                _refuse_links(place, path.count(b"/"))
            append.publish(self.repo, self.folder, held, lock, old, new, files, step)
            self._tag_stages(held)
            return True

    def settle(self) -> None:
        """Finish what a process that died left half done: its locks, the folder, the index."""
        tip = self.repo.tip()
        if tip is not None and read_holder(self.repo.git) is not None:
            self.advance(tip, tip, [])

    def write_working(self, path: str, data: bytes, *, expect: bytes | None = None) -> None:
        """Replace a working file, whole or not at all; with `expect`, only if it holds that."""
        reason = paths.refusal(path)
        if reason or paths.kind_of(path) is None:
            raise InvalidInput(f"{path!r} {reason or 'is no file of a ledger'}")
        with self._writing(30.0):
            place = self.folder / path
            _refuse_links(place, path.count("/"))
            if expect is not None and place.exists() and read_file(self.folder, path) != expect:
                raise ChangedUnderYou(
                    "the file was changed meanwhile", where=path, hint="do it again"
                )
            atomic.replace(place, data, spool=self.repo.git / SPOOL)

    # inside

    @contextlib.contextmanager
    def _writing(self, timeout: float) -> Iterator[Held]:
        with hold(self.repo.git, timeout) as held, atomic.disk_errors("writing the ledger"):
            sweep(self.repo.git, held)
            if not self.repo.head_is_main():
                raise ChangedUnderYou(
                    "a plain git shows another branch than main in this folder",
                    hint="go back with `git switch main`",
                )
            attributes = self.repo.git / "info" / "attributes"
            if not attributes.exists():
                atomic.replace(attributes, _ATTRIBUTES)
            yield held

    def _history(self) -> tuple[str | None, list[Entry], rules.Past]:
        tip = self.repo.tip()
        if tip != self._known[0]:
            known_tip, known = self._known[:2]
            found = (
                self._recalled(tip)
                if self.recalls
                else entries.extend(self.repo, tip, known_tip, known)
            )
            self._known = (tip, found, rules.Past(found))
        return self._known

    def _recalled(self, tip: str | None) -> list[Entry]:
        from buildlog.store import recall

        return recall.history(self.repo, self.folder, tip)

    def _sessions(self, tree: str) -> dict[str, str]:
        for name, mode, object_id in self.repo.tree(tree):
            if name == b"dyno" and mode == 0o040000:
                folder = self.repo.tree(object_id.decode())
                return {sub.decode("utf-8", "replace"): oid.decode() for sub, _, oid in folder}
        return {}

    def _proposal(self) -> Proposal:
        return proposal.from_folder(self.repo, self.folder, self.repo.tip(), self.entries)

    def _add(self, held: Held, lock: Locked, meant: Proposal, facts: Facts, by: Recorder) -> Entry:
        parents = [meant.tip] if meant.tip else []
        facts = facts if facts.work_date else dataclasses.replace(facts, work_date=by.now.date())
        rules.refuse(rules.judge(facts, meant.change, meant.new, parents, self._history()[2]))
        step = meant.step()
        blobs = self._blobs(meant)
        nonce = None if parents else self._nonce()
        address = self.id or nonce or ""
        trees, commit = append.seal(self.repo, meant.new, parents, facts, by, address, nonce)
        held_already = {tree.id for tree in append.build_trees(meant.old)}
        self.repo.add([*blobs, *(tree for tree in trees if tree.id not in held_already), commit])
        name = commit.id.decode()
        append.publish(self.repo, self.folder, held, lock, meant.tip, name, meant.new, step)
        entry = self._history()[2].by_id[name]
        try:
            self._tag_stages(held)
        except OSError as error:
            raise append.half_done(entry.id, error) from error
        return entry

    def _blobs(self, meant: Proposal) -> list[ShaFile]:
        blobs: list[ShaFile] = []
        for path in meant.change.added + meant.change.changed:
            data = meant.read(path)
            blobs.append(Blob.from_string(data))
            self.repo.expect(blobs[-1].id.decode(), data)
        return blobs

    def _nonce(self) -> str:
        path = self.repo.git / _NONCE
        return path.read_text("ascii").strip() if path.exists() else secrets.token_hex(16)

    def _tag_stages(self, held: Held) -> None:
        """Make missing tags again. One that cannot be made now is made another time."""
        tags = self.repo.references(STAGES)
        for stage, entry in self._history()[2].stages.items():
            if stage not in tags and rules.stage_refusal(stage) is None:
                with contextlib.suppress(ChangedUnderYou, FileExistsError, NotADirectoryError):
                    append.move(self.repo, held, STAGES + stage, None, entry.id)


def _refuse_links(place: Path, depth: int) -> None:
    for part in (place, *place.parents[:depth]):
        if part.is_symlink():
            raise InvalidInput("this is a symbolic link, which is not followed", where=str(part))


def _refuse_moved(meant: Proposal, expect: str | None) -> None:
    if expect is not None and expect != meant.tip:
        raise ChangedUnderYou(
            "another entry was recorded meanwhile", hint="look at it, then record again"
        )


def _refuse_nothing(facts: Facts, meant: Proposal) -> None:
    if not meant.change and not facts.stage and facts.kind in ("build", "dyno", "fault"):
        raise InvalidInput(
            "nothing has changed since the last entry", hint="edit car.toml or add a session first"
        )


def _recorded(files: Files) -> dict[str, str]:
    """The files of a tree that a ledger records, each with the object id of its content."""
    named = ((name.decode("utf-8", "surrogateescape"), *held) for name, held in files.items())
    return {
        path: object_id
        for path, mode, object_id in named
        if mode == REGULAR and paths.kind_of(path) and not paths.refusal(path)
    }


def _label(version: Version | Entry) -> str:
    return version.name if isinstance(version, Version) else f"entry {version.number}"
