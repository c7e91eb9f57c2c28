"""Every object that a ledger's references lead to, re-hashed; every pack and its index."""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Iterator

from dulwich.objects import Commit, ObjectID, Tag

from buildlog.errors import BuildlogError, DamagedLedger, PartOnly
from buildlog.findings import Finding
from buildlog.store.git.repo import Repo
from buildlog.store.git.size_limits import MB, refuse_more
from buildlog.store.ledger.names import OWN
from buildlog.store.verify.damage_words import fault


def objects(repo: Repo, commits: Iterable[str], seen: set[str]) -> Iterator[Finding]:
    for name in commits:
        try:
            seen.add(name)
            commit = repo.commit(name)
            commit.check()
            _refuse_torn(repo, name)
            for object_id in _unseen(repo, commit.tree.decode(), seen):
                _refuse_torn(repo, object_id)
                repo.item(object_id).check()
        except PartOnly:
            raise
        except BuildlogError as error:
            yield fault("object", error, name)
        except Exception as error:
            yield fault("object", DamagedLedger(f"an object is malformed: {error}"), name)


def others(repo: Repo, seen: set[str]) -> Iterator[Finding]:
    """The same for what tags and plans lead to beyond the entries. `seen`: what was read."""
    for name, start in own_references(repo).items():
        waiting = [start]
        try:
            while waiting:
                object_id = waiting.pop()
                if object_id in seen:
                    continue
                seen.add(object_id)
                found = repo.objects[ObjectID(object_id.encode())]
                found.check()
                _refuse_torn(repo, object_id)
                if isinstance(found, Tag):
                    waiting.append(found.object[1].decode())
                elif isinstance(found, Commit):
                    waiting += [parent.decode() for parent in found.parents]
                    for inner in _unseen(repo, found.tree.decode(), seen):
                        _refuse_torn(repo, inner)
        except BuildlogError as error:
            told = type(error)(f"{name}: {error.what}", hint=error.hint)
            yield fault("reference", told)
        except Exception as error:
            yield fault("reference", DamagedLedger(f"{name} cannot be read: {error}"))


def own_references(repo: Repo) -> dict[str, str]:
    """What the names of a ledger hold; what a clone leaves beside them decides nothing."""
    held = {name: repo.reference(name) for name in repo.names() if name.startswith(OWN)}
    return {name: found for name, found in held.items() if found}


def _refuse_torn(repo: Repo, object_id: str) -> None:
    """A loose file must end where its compressed stream ends; reading alone forgives its loss."""
    path = repo.git / "objects" / object_id[:2] / object_id[2:]
    if path.is_file():
        stream, data = zlib.decompressobj(), path.read_bytes()
        while data and not stream.eof:
            stream.decompress(data, MB)
            data = stream.unconsumed_tail
        if not stream.eof or stream.unused_data:
            raise DamagedLedger(f"the file of the object {object_id[:12]} is torn")


def _unseen(repo: Repo, tree_id: str, seen: set[str], depth: int = 0) -> Iterator[str]:
    refuse_more(depth, repo.limits.depth, "folders in folders")
    if tree_id in seen:
        return
    seen.add(tree_id)
    yield tree_id
    for _, mode, oid in repo.fresh_tree(tree_id):
        object_id = oid.decode()
        if mode == 0o040000:
            yield from _unseen(repo, object_id, seen, depth + 1)
        elif mode != 0o160000 and object_id not in seen:
            seen.add(object_id)
            repo.blob(object_id)
            yield object_id


def packs(repo: Repo) -> list[object]:
    try:
        return list(repo.objects.packs)
    except Exception:
        return [None]


def pack_faults(repo: Repo) -> Iterator[Finding]:
    try:
        for pack in repo.objects.packs:
            pack.index.check()
            pack.data.check()
            pack.check()
    except Exception as error:
        yield fault("pack", DamagedLedger(f"a pack of objects is damaged: {error}"))
