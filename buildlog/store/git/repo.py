"""Reading and adding git objects: the only door to dulwich's object store.

The repository is opened part by part (objects, references) and never as a whole, so that
its configuration, hooks, filters, submodules, alternates and the environment have no say.
Objects are read through `store[id]`, which hashes what it read. Whatever goes wrong in
reading is a DamagedLedger that names the object and says what to do.
"""

from __future__ import annotations

import contextlib
import stat
import threading
from collections.abc import Iterable, Iterator
from functools import lru_cache
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from dulwich.objects import Blob, Commit, ObjectID, ShaFile, Tag, Tree
from dulwich.refs import DiskRefsContainer, Ref

from buildlog.errors import BuildlogError, DamagedLedger, InvalidInput, NotFound, PartOnly
from buildlog.store.disk.atomic import Locked, make_folder
from buildlog.store.git import packs
from buildlog.store.git.digest import EntryContent, digest, recorded
from buildlog.store.git.objects import Objects
from buildlog.store.git.size_limits import limits, refuse_more

if TYPE_CHECKING:
    from dulwich.config import ConfigFile
    from dulwich.objects import TreeEntry

MAIN = "refs/heads/main"
LISTS = "buildlog"  # below .git: what each computer has recorded
REGULAR = 0o100644
_SUBMODULE = 0o160000
_IN_ONE = "files and folders of one version"
_RESTORE = "restore it from a copy or a handover bundle; `buildlog verify` says what is still good"

_Object = TypeVar("_Object", bound=ShaFile)

Files = dict[bytes, tuple[int, str]]  # path -> mode, object id


class Repo:
    """One ledger's objects and references. Close it, or use it in a `with`.

    Threads may read through one.
    """

    def __init__(self, folder: Path, *, bare: bool = False) -> None:
        self.git = folder if bare else folder / ".git"
        _refuse_indirection(self.git)
        _refuse_unknown_format(self.git / "config")
        self.objects = Objects(self.git / "objects")
        self.is_closed = False
        self.limits = limits()
        self.refs = DiskRefsContainer(self.git)
        self._one_at_a_time = threading.RLock()  # the list of packed references is read in place
        # one level of a tree by its id: sessions stay the same through hundreds of entries
        self.tree = lru_cache(maxsize=8192)(self.fresh_tree)
        self.lent: dict[ObjectID, ShaFile] = {}  # read as if they were here, written by nobody
        self._contents: dict[str, EntryContent] = {}
        self._digests: dict[str, str] = {}

    def __enter__(self) -> Repo:
        return self

    def __exit__(self, *exc: object) -> None:
        self.close()

    def close(self) -> None:
        self.is_closed = True
        self.objects.close()

    # references

    def tip(self) -> str | None:
        """The id `main` points at; None in a ledger without entries.

        DamagedLedger where there were entries and the branch is gone.
        """
        found = self.reference(MAIN)
        if found is None and self._had_entries():
            raise DamagedLedger(
                "the branch main is gone, and there are entries",
                where=str(self.git / MAIN),
                hint="buildlog repair finds the newest whole line, and shows what proves it",
            )
        return found

    def _had_entries(self) -> bool:
        """Tags, other copies' tips, lists of recorded ids, or an entry that follows another."""
        if any((self.git / LISTS).glob("recorded-*")):
            return True
        if any(name.startswith(("refs/tags/", "refs/heads/plan/", "refs/remotes/"))
               for name in self.names()):  # fmt: skip
            return True
        return any(commit.parents for commit in self.commits())

    def commits(self) -> Iterator[Commit]:
        """Every commit that is here, whether or not anything leads to it; damaged ones left out."""
        for name in self.objects:
            try:
                found = self.objects[name]
            except Exception:  # `verify` names it
                continue
            if isinstance(found, Commit):
                yield found

    def reference(self, name: str) -> str | None:
        """The id a reference holds, read afresh. A torn file never falls back to an older value."""
        try:
            text = self._loose(name)
            if text is None:
                with self._one_at_a_time:
                    packed = self.refs.get_packed_refs().get(Ref(name.encode()))
                text = packed.decode("ascii", "replace") if packed else None
        except Exception as error:
            raise _damaged(f"the reference {name} cannot be read", error) from error
        if text is not None and (len(text) != 40 or set(text) - set("0123456789abcdef")):
            raise _damaged(f"the reference {name} does not hold an id", None)
        return text

    def references(self, prefix: str) -> dict[str, str]:
        """The references below a prefix ("refs/tags/stage/"), by the rest of their names."""
        try:
            with self._one_at_a_time:
                found = sorted(self.refs.subkeys(Ref(prefix.encode())))
        except Exception as error:
            raise _damaged("the references cannot be listed", error) from error
        names = [name.decode("utf-8", "replace") for name in found]
        values = {name: self.reference(prefix + name) for name in names}
        return {name: value for name, value in values.items() if value}

    def names(self) -> list[str]:
        """The whole names of all references, whatever they hold."""
        try:
            with self._one_at_a_time:
                found = sorted(self.refs.subkeys(Ref(b"refs/")))
        except Exception as error:
            raise _damaged("the references cannot be listed", error) from error
        return ["refs/" + name.decode("utf-8", "replace") for name in found]

    def head_is_main(self) -> bool:
        """Whether the folder shows `main` (a plain git may have switched to another branch)."""
        try:
            return (self.git / "HEAD").read_bytes().strip() == b"ref: " + MAIN.encode()
        except OSError:
            return False

    def _loose(self, name: str) -> str | None:
        try:
            _refuse_special(self.git / name)
            with (self.git / name).open("rb") as file:
                return file.read(100).decode("ascii", "replace").rstrip("\r\n")
        except (FileNotFoundError, NotADirectoryError):
            return None

    def move(self, name: str, old: str | None, new: str) -> bool:
        """Set a reference to `new` if it is still `old` (None: absent), forced to the disk.

        FileExistsError while a git at work holds the reference's lock.
        """
        path = self.git / name
        make_folder(path.parent)
        draft = Locked(path)
        try:
            if self.reference(name) != old:
                return False
            draft.put(f"{new}\n".encode())
        finally:
            draft.drop()
        return True

    # objects

    def commit(self, commit_id: str) -> Commit:
        return self._read(commit_id, Commit, "commit")

    def blob(self, blob_id: str) -> bytes:
        data: bytes = self._read(blob_id, Blob, "file").data
        return data

    def item(self, object_id: str) -> ShaFile:
        """Any object, as it is."""
        return self._read(object_id, ShaFile, "object")

    def fresh_tree(self, tree_id: str) -> list[TreeEntry]:
        """One level of a tree, read from the disk (`tree` remembers)."""
        return list(self._read(tree_id, Tree, "folder").items())

    def files(self, tree_id: str) -> Files:
        """Every file of a tree, as `git ls-tree -r` lists them."""
        return self.news(None, tree_id)

    def files_of(self, commit_id: str | None) -> Files:
        """Every file of a commit; of none, none."""
        return self.files(self.commit(commit_id).tree.decode()) if commit_id else {}

    def held(self, commit_id: str | None, path: str) -> bytes | None:
        """The bytes of one file of a commit; None where it has none there."""
        tree = self.commit(commit_id).tree.decode() if commit_id else None
        found = self.find(tree, path.encode()) if tree else None
        return self.blob(found[1]) if found else None

    def find(self, tree_id: str, path: bytes) -> tuple[int, str] | None:
        """Mode and object id at a path of a tree; None where there is nothing."""
        mode, found = stat.S_IFDIR, tree_id
        for part in path.split(b"/"):
            if not stat.S_ISDIR(mode):
                return None
            here = next((item for item in self.tree(found) if item.path == part), None)
            if here is None:
                return None
            mode, found = here.mode, here.sha.decode()
        return mode, found

    def news(self, old: str | None, new: str) -> Files:
        """The files of a tree that another has not, or has with other bytes.

        Folders that both share are passed by unread.
        """
        return self._news(old, new, b"", 0, count(1))

    def _news(
        self, old: str | None, new: str, prefix: bytes, depth: int, visited: Iterator[int]
    ) -> Files:
        refuse_more(depth, self.limits.depth, "folders in folders")
        before = {item.path: item for item in self.tree(old)} if old else {}
        found: Files = {}
        for name, mode, object_id in self.tree(new):
            refuse_more(next(visited), self.limits.files, _IN_ONE)
            was = before.get(name)
            if was is not None and (was.mode, was.sha) == (mode, object_id):
                continue
            if stat.S_ISDIR(mode):
                below = was.sha.decode() if was and stat.S_ISDIR(was.mode) else None
                inner = prefix + name + b"/"
                found |= self._news(below, object_id.decode(), inner, depth + 1, visited)
            else:
                found[prefix + name] = (mode, object_id.decode())
        return found

    def peel(self, object_id: str) -> str:
        """The commit an annotated tag stands for; anything else is its own id."""
        for _ in range(8):
            found = self.item(object_id)
            if not isinstance(found, Tag):
                break
            object_id = found.object[1].decode()
        return object_id

    def has(self, object_id: str) -> bool:
        name = ObjectID(object_id.encode())
        return name in self.lent or name in self.objects

    def content(self, object_id: str, mode: int = REGULAR) -> EntryContent:
        """Digest and size of a file's bytes (see `digest` for what a submodule counts as)."""
        found = self._contents.get(object_id)
        if found is None:
            data = object_id.encode() if mode == _SUBMODULE else self.blob(object_id)
            found = self._contents[object_id] = EntryContent.of(data)
        return found

    def refuse_part(self, what: str = "", where: str | None = None) -> None:
        """PartOnly where a plain git cloned this with `--depth` or `--filter`."""
        if _is_part(self.git):
            raise PartOnly(
                f"this clone holds a part of the ledger{what}",
                where=where,
                hint="git fetch --unshallow brings the rest, or clone it without --depth and "
                "--filter",
            )

    def expect(self, blob_id: str, data: bytes) -> None:
        """Remember the content of a file that is about to be added."""
        self._contents[blob_id] = EntryContent.of(data)

    def digest_of(self, commit_id: str) -> str:
        """The digest a later entry chains to: the recorded one, or else the computed one."""
        wanted = [] if commit_id in self._digests else [commit_id]
        while wanted:  # not by recursion: a plain git may have made thousands in a row
            current = wanted[-1]
            commit = self.commit(current)
            known = recorded(commit.message)
            parents = [parent.decode() for parent in commit.parents]
            missing = [] if known else [p for p in parents if p not in self._digests]
            if missing:
                wanted += missing
                continue
            self._digests[current] = known or self.computed_digest(commit)
            wanted.pop()
        return self._digests[commit_id]

    def computed_digest(self, commit: Commit) -> str:
        """The digest of a commit, from its content and its parents' digests."""
        return digest(
            [self.digest_of(parent.decode()) for parent in commit.parents],
            author_line(commit),
            commit.message,
            self.files(commit.tree.decode()),
            self.content,
        )

    def lend(self, objects: Iterable[ShaFile]) -> None:
        """Read these objects as if they were in the store, without writing them."""
        self.lent |= {item.id: item for item in objects}

    @contextlib.contextmanager
    def adding(self, objects: Iterable[ShaFile]) -> Iterator[None]:
        """Check objects and add them, forced to the disk, before something leads to them.

        They go in as one pack with a `.keep` beside it, which is there first and goes when this
        is over: a git that tidies up meanwhile lets them be.
        """
        items = {item.id: item for item in objects}
        for item in items.values():
            try:
                item.check()
            except Exception as error:
                raise InvalidInput(
                    f"git would refuse this {item.type_name.decode()}: {error}"
                ) from error
            self._drop_torn(item.id.decode())
        keep = packs.write(self.git, list(items.values())) if items else None
        try:
            yield
        finally:
            if keep is not None:
                with contextlib.suppress(OSError):  # the next one sweeps it
                    keep.unlink()

    def _drop_torn(self, name: str) -> None:
        """Take away a file of an object that another program left half-written."""
        path = self.git / "objects" / name[:2] / name[2:]
        if path.exists():
            try:
                self.objects[ObjectID(name.encode())]
            except Exception:
                path.unlink(missing_ok=True)

    def _read(self, object_id: str, wanted: type[_Object], word: str) -> _Object:
        try:
            name = ObjectID(object_id.encode())
            found = self.lent.get(name) or self.objects[name]
        except KeyError as error:
            self.refuse_part(f": the {word} {object_id[:12]} was left out when it was made")
            raise _damaged(f"the {word} {object_id[:12]} is missing", None) from error
        except BuildlogError:
            raise
        except Exception as error:
            raise _damaged(f"the {word} {object_id[:12]} cannot be read", error) from error
        if not isinstance(found, wanted):
            raise _damaged(f"{object_id[:12]} is not a {word}", None)
        return found


def author_line(commit: Commit) -> bytes:
    """What follows "author " in the commit object, byte for byte."""
    for line in commit.as_raw_string().split(b"\n"):
        if line.startswith(b"author "):
            return line[len(b"author ") :]
    raise _damaged(f"the commit {commit.id.decode()[:12]} has no author", None)


def _damaged(what: str, error: BaseException | None) -> DamagedLedger:
    why = f"{type(error).__name__}: {error}"[:200] if error else None
    return DamagedLedger(what, why=why, hint=_RESTORE)


def _is_part(git: Path) -> bool:
    """Whether a plain git cloned this with `--depth` or `--filter`, as it notes itself."""
    if (git / "shallow").exists():
        return True
    with contextlib.suppress(Exception):
        config = _config(git / "config")
        named = (section for section in config.sections() if section[0].lower() == b"remote")
        return any(name.lower() == b"promisor" for one in named for name, _ in config.items(one))
    return False


def _refuse_indirection(git: Path) -> None:
    """A ledger's repository lies in its folder, whole; nothing of it is elsewhere."""
    if not git.exists():
        raise NotFound(f"{git.parent} is not a ledger", hint="start one with `buildlog new`")
    parts = (".", "objects", "objects/pack", "refs", "refs/heads", "refs/tags", MAIN, "HEAD",
             "config", "packed-refs", "index")  # fmt: skip
    if git.is_file():
        raise NotFound(
            f"{git.parent} is a second work tree of another repository",
            hint="name the ledger's own folder: `git worktree list` shows it",
        )
    if not git.is_dir() or any((git / part).is_symlink() for part in parts):
        raise DamagedLedger(
            "the repository points to files elsewhere", where=str(git), hint="use a whole copy"
        )
    for part in parts:
        _refuse_special(git / part)
    for part in ("objects/info/alternates", "commondir"):
        if (git / part).exists():
            raise DamagedLedger(
                "the repository borrows objects from another one, which is not followed",
                where=str(git / part),
                hint="make a whole copy with `git clone --no-local`",
            )


def _refuse_special(path: Path) -> None:
    """A pipe or a device in the place of a file would be waited for without end.

    Looked at once: a git that packs references takes the file away between two looks.
    """
    try:
        mode = path.stat().st_mode
    except OSError:
        return
    if not (stat.S_ISREG(mode) or stat.S_ISDIR(mode)):
        raise DamagedLedger("this is no ordinary file", where=str(path), hint="use a whole copy")


def _config(path: Path) -> ConfigFile:
    from dulwich.config import ConfigFile

    with path.open("rb") as file:
        return ConfigFile.from_file(file, expand_includes=False)


def _refuse_unknown_format(path: Path) -> None:
    try:
        config = _config(path)
        core, extensions = (
            {name.lower(): value for name, value in config.items((section,))}
            for section in (b"core", b"extensions")
        )
    except Exception as error:
        raise _damaged(f"{path} cannot be read", error) from error
    hash_name = extensions.get(b"objectformat", b"sha1")
    known = extensions.keys() <= {b"objectformat", b"worktreeconfig", b"noop"}
    version = core.get(b"repositoryformatversion") or b"0"
    if version not in (b"0", b"1") or not known or hash_name != b"sha1":
        raise DamagedLedger(
            "the repository is of a form that this program does not read",
            where=str(path),
            hint="a ledger is a plain git repository with SHA-1 ids and files for references",
        )
