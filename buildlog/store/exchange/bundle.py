"""The git bundle that leaves with a car: written with everything reachable, read with limits.

A bundle is written without deltas, its objects in a fixed order, so the same ledger gives
the same bytes. References are named as they are, not peeled: an annotated tag keeps its text
and its signature. It is read into an empty store and walked before it counts as written.
"""

from __future__ import annotations

import hashlib
import io
import re
import zlib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from dulwich.object_format import SHA1
from dulwich.objects import ObjectID, ShaFile, Tag
from dulwich.pack import write_pack_objects

from buildlog.errors import DamagedLedger
from buildlog.findings import how_many
from buildlog.store.disk.atomic import fsync_folder
from buildlog.store.git.objects import BY_NAME, BY_PLACE, made, number, way_back
from buildlog.store.git.ordering import names
from buildlog.store.git.repo import MAIN, Repo
from buildlog.store.git.size_limits import (
    LARGE,
    SizeLimits,
    TooLarge,
    limits,
    refuse_bytes,
    refuse_more,
)
from buildlog.store.ledger.names import HANDOVERS, PLANS, STAGES

_FIRST_LINE = b"# v2 git bundle\n"
_REFERENCE = re.compile(
    rb"([0-9a-f]{40}) (HEAD|refs/heads/main|refs/tags/stage/[\w.-]+"
    rb"|refs/tags/handover/[0-9]{1,6}|refs/heads/plan/[\w.-]+)",
    re.ASCII,
)
_COPIES = (1, 2, 3, 4)  # a pack's kinds of whole objects
_HINT = "ask for the file again; nothing was made of this one"


@dataclass(frozen=True)
class Bundle:
    """A bundle that was read: its references, and its pack as it came."""

    references: Mapping[str, str]
    pack: memoryview  # of the file's bytes, which may be many

    @property
    def tip(self) -> str:
        """The id of `main`."""
        return self.references[MAIN]


def references(repo: Repo, *, plans: bool = False) -> dict[str, str]:
    """What leaves: HEAD and `main`, the stage and handover tags; plans only if asked for."""
    tip = repo.tip()
    if tip is None:
        return {}
    found = {"HEAD": tip, MAIN: tip}
    for prefix in (HANDOVERS, STAGES, *([PLANS] if plans else [])):
        found |= {prefix + name: held for name, held in repo.references(prefix).items()}
    return found


def write(repo: Repo, named: Mapping[str, str]) -> bytes:
    """The bundle of these references, read back from an empty store before it is returned."""
    out = io.BytesIO()
    out.write(_FIRST_LINE)
    for name, held in named.items():
        out.write(f"{held} {name}\n".encode())
    out.write(b"\n")
    objects = list(reachable(repo.objects, named.values()))
    write_pack_objects(out, objects, SHA1)
    data = out.getvalue()
    _refuse_unlike(read(data, LARGE), named, {item.id for item in objects})
    return data


def read(data: bytes, most: SizeLimits | None = None) -> Bundle:
    """Read a bundle that anybody may have made. DamagedLedger says what is wrong with it."""
    most = most or limits()
    if not data.startswith(_FIRST_LINE):
        raise _bad("this is no git bundle (version 2)")
    end = data.find(b"\n\n", 0, most.header)
    if end < 0:
        raise _bad("its list of references has no end")
    named: dict[str, str] = {}
    for line in data[len(_FIRST_LINE) : end].split(b"\n"):
        match = _REFERENCE.fullmatch(line)
        if match is None or match.group(2).decode() in named:
            raise _no_reference_of_ours(line)
        named[match.group(2).decode()] = match.group(1).decode()
    if MAIN not in named or named.get("HEAD", named[MAIN]) != named[MAIN]:
        raise _bad("it does not hold the branch main")
    pack = memoryview(data)[end + 2 :]
    _refuse_large(pack, most)
    return Bundle(named, pack)


def is_large(data: bytes) -> bool:
    """Whether whoever gets this bundle has to raise the limits to read it."""
    try:
        read(data, SizeLimits())
    except TooLarge:
        return True
    return False


def unpack(found: Bundle, repo: Repo) -> None:
    """Put a bundle's objects into an empty ledger's store. Nothing refers to them yet."""
    from dulwich.object_store import DiskObjectStore

    store = repo.objects
    assert isinstance(store, DiskObjectStore)
    file, commit, abort = store.add_pack()
    try:
        file.write(found.pack)
        commit()
    except OSError:  # the disk's fault, not the bundle's
        abort()
        raise
    except Exception as error:
        abort()
        raise _bad(f"its objects cannot be read ({type(error).__name__})") from error
    for folder in (store.pack_dir, store.path):  # dulwich forces the files alone
        fsync_folder(folder)
    walk(store, found.references.values())


def walk(store: object, roots: Iterable[str]) -> int:
    """Read everything reachable, checking each object; the number of objects."""
    try:
        count = 0
        for item in reachable(store, roots):
            item.check()
            count += 1
        return count
    except DamagedLedger:
        raise
    except Exception as error:
        raise _bad(f"an object in it is missing or malformed ({error})") from error


def reachable(store: object, roots: Iterable[str]) -> Iterator[ShaFile]:
    """Every object that the roots lead to, each once: commits and tags before trees and files."""
    waiting = [ObjectID(root.encode()) for root in dict.fromkeys(roots)]
    later: list[ObjectID] = []
    seen = set(waiting)
    while waiting or later:
        name = waiting.pop(0) if waiting else later.pop()
        item: ShaFile = store[name]  # type: ignore[index]
        yield item
        for other in names(item):
            if other not in seen:
                seen.add(other)
                is_line = isinstance(item, Tag) or other in getattr(item, "parents", ())
                (waiting if is_line else later).append(other)


def _refuse_unlike(found: Bundle, named: Mapping[str, str], written: set[ObjectID]) -> None:
    """What was written reads back, from nothing but its own bytes, as what was meant."""
    from dulwich.object_store import MemoryObjectStore

    store = MemoryObjectStore()
    file, commit, _ = store.add_pack()
    file.write(found.pack)
    commit()
    walk(store, found.references.values())
    if dict(found.references) != dict(named) or set(store) != written:
        raise DamagedLedger(
            "the bundle does not read back as it was written", hint="do it again on a good disk"
        )


def _refuse_large(pack: memoryview, most: SizeLimits) -> None:
    """Look at every size a pack states before anything is unpacked beyond it."""
    if len(pack) < 32 or bytes(pack[:8]) != b"PACK\0\0\0\2":
        raise _bad("its objects are cut off or of an unknown form")
    if hashlib.sha1(pack[:-20], usedforsecurity=False).digest() != pack[-20:]:
        raise _bad("its objects are not as they were written (checksum)")
    count = int.from_bytes(pack[8:12], "big")
    refuse_more(count, most.objects, f"{how_many(count, 'object')} in the bundle")
    total, at = 0, 12
    for _ in range(count):
        size, at = _measured(pack, at, most)
        total += size
        refuse_bytes(total, most.all, "all objects of the bundle")
    if at != len(pack) - 20:
        raise _bad("something stands behind its objects")


def _measured(pack: memoryview, at: int, most: SizeLimits) -> tuple[int, int]:
    """The size of the object at a place once unpacked, and the place behind it."""
    stream = zlib.decompressobj()
    try:
        kind = (pack[at] >> 4) & 7
        size, at = number(pack, at, first=4)
        if kind == BY_PLACE:
            _, at = way_back(pack, at)
        elif kind == BY_NAME:
            at += 20
        elif kind not in _COPIES:
            raise _bad("it holds an object of an unknown kind")
        _refuse_size(size, most)
        content = stream.decompress(pack[at:-20], size + 1)
        result = made(content, most.one) if kind in (BY_PLACE, BY_NAME) else size
    except (zlib.error, ValueError, IndexError) as error:
        raise _bad("an object in it cannot be unpacked") from error
    if len(content) != size or (not stream.eof and stream.decompress(stream.unconsumed_tail, 1)):
        raise _bad("an object in it is not of the size it states")
    at = len(pack) - 20 - len(stream.unused_data)
    _refuse_size(result, most)
    return result, at


def _refuse_size(size: int, most: SizeLimits) -> None:
    refuse_bytes(size, most.one, "an object of the bundle")


def _no_reference_of_ours(line: bytes) -> DamagedLedger:
    """Of a bundle of plain git: another branch, or the end of a history alone."""
    if line.startswith(b"-"):
        return _bad("it holds the end of a history, and not what came before")
    name = line.partition(b" ")[2][:80].decode("utf-8", "replace") or "a line of no form"
    return _bad(f"it holds {name}, which is no name that a handover has, or has twice")


def _bad(what: str) -> DamagedLedger:
    return DamagedLedger(f"the bundle cannot be accepted: {what}", hint=_HINT)
