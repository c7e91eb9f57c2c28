"""Reading a ledger: its entries, what a name means, the files of a version.

Needs no write permission, takes no lock, and knows nothing of how entries are made.
"""

from __future__ import annotations

import contextlib
import weakref
from functools import partial
from pathlib import Path
from typing import Self

from buildlog.errors import NotFound
from buildlog.records.fields import newer
from buildlog.store.disk import drafts, lock
from buildlog.store.git import ledger_files
from buildlog.store.git.repo import REGULAR, Files, Repo
from buildlog.store.ledger import entries, names
from buildlog.store.ledger.entries import Entry
from buildlog.store.ledger.names import NamedVersion
from buildlog.store.ledger.working import Working, scan
from buildlog.store.ledger.working import read as read_file


class Reader:
    """One ledger, to be read. Close it, or use it in a `with`."""

    def __init__(self, folder: Path, repo: Repo | None = None) -> None:
        self.folder = folder
        self.recalls = False  # what was read before may come from the index: for looking only
        self.repo = repo or Repo(folder)
        self._known: tuple[str | None, list[Entry]] = (None, [])
        self._files: dict[str, dict[str, str]] = {}  # of the tree that was asked for last
        newer.watch(str(self.repo.git), partial(_offered, weakref.ref(self)))

    # opening

    @classmethod
    def find(cls, start: Path) -> Self:
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
    def open(cls, folder: Path) -> Self:
        """The ledger in exactly this folder."""
        return cls(folder.absolute())

    def tidy(self) -> None:
        """Sweep what a dead process of ours left in this folder or beside it, where we may."""
        with contextlib.suppress(OSError):
            lock.tidy(self.repo.git)
            drafts.sweep(self.folder)
            drafts.sweep(self.folder.parent)

    def __enter__(self) -> Self:
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

    def newest(self) -> str:
        """The id at the tip of `main`. NotFound before anything is recorded."""
        tip = self.repo.tip()
        if tip is None:
            raise NotFound("nothing is recorded yet", hint="record an entry first")
        return tip

    def entries(self) -> list[Entry]:
        """All entries, first to last."""
        return list(self._history())

    def resolve(self, name: str) -> NamedVersion:
        """The version a name means (design: naming a version on the command line)."""
        if name.startswith("plan:"):
            commit = names.plan(name.removeprefix("plan:"), self.plans())
            return NamedVersion(name, None, commit, self.repo.commit(commit).tree.decode())
        return names.resolve(name, self._history(), self.plans, self.adds_session)

    def plans(self) -> dict[str, str]:
        """The newest commit of each plan, by name."""
        return self.repo.references(names.PLANS)

    def files(self, version: NamedVersion | Entry) -> dict[str, str]:
        """The recorded paths of a version, each with the object id of its content."""
        if version.tree is None:
            return dict(sorted(self.working().files.items()))
        held = self._files.get(version.tree)
        if held is None:
            held = _recorded(self.repo.files(version.tree))
            self._files = {version.tree: held}
        return dict(held)

    def news(self, entry: Entry, before: Entry | None) -> dict[str, str]:
        """The recorded paths that an entry has and another has not, or has with other bytes."""
        old = before.tree if before else None
        return {} if old == entry.tree else _recorded(self.repo.news(old, entry.tree))

    def content_id(self, version: NamedVersion | Entry, path: str) -> str | None:
        """The object id of one recorded file; None where it is not recorded."""
        if version.tree is None or ledger_files.kind_of(path) is None or ledger_files.refusal(path):
            return None
        found = self.repo.find(version.tree, path.encode("utf-8", "surrogateescape"))
        return found[1] if found and found[0] == REGULAR else None

    def read(self, version: NamedVersion | Entry, path: str) -> bytes:
        """The bytes of one recorded file; from the disk for working."""
        if version.tree is None:
            if ledger_files.kind_of(path) is None or not (self.folder / path).exists():
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

    # inside

    def _history(self) -> list[Entry]:
        return self._until(self.repo.tip())

    def _until(self, tip: str | None) -> list[Entry]:
        """All entries reachable from a commit; what is known already is not read again."""
        known_tip, known = self._known
        if tip != known_tip:
            if self.recalls and known_tip is None:
                known = self._recalled(tip)
            else:
                known = entries.extend(self.repo, tip, known_tip, known)
            self._known = (tip, known)
        return known

    def _recalled(self, tip: str | None) -> list[Entry]:
        from buildlog.store.ledger import kept_history

        return kept_history.history(self.repo, self.folder, tip)

    def _sessions(self, tree: str) -> dict[str, str]:
        for name, mode, object_id in self.repo.tree(tree):
            if name == b"dyno" and mode == 0o040000:
                folder = self.repo.tree(object_id.decode())
                return {sub.decode("utf-8", "replace"): oid.decode() for sub, _, oid in folder}
        return {}


def _recorded(files: Files) -> dict[str, str]:
    """The files of a tree that a ledger records, each with the object id of its content."""
    named = ((name.decode("utf-8", "surrogateescape"), *held) for name, held in files.items())
    return {
        path: object_id
        for path, mode, object_id in named
        if mode == REGULAR and ledger_files.kind_of(path) and not ledger_files.refusal(path)
    }


def _offered(reader: weakref.ref[Reader]) -> None:
    """Read the history, so that what a newer program wrote in it is proof."""
    found = reader()
    if found is not None and not found.repo.is_closed:
        found.entries()


def _label(version: NamedVersion | Entry) -> str:
    return version.name if isinstance(version, NamedVersion) else f"entry {version.number}"
