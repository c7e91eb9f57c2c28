"""A repository's objects on the disk, none read before its size is known.

dulwich limits what a loose file unpacks to, not what an object in a pack does. So a packed
object's size is looked up first, and that of everything it is stored as a change of. The
helpers that git keeps beside its packs are not asked: they could say anything.
"""

from __future__ import annotations

import contextlib
import mmap
import os
import stat
import threading
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from dulwich.errors import ObjectFormatException
from dulwich.object_store import DiskObjectStore
from dulwich.objects import ObjectID, RawObjectID, hex_to_sha

from buildlog.errors import DamagedLedger
from buildlog.store.git.size_limits import MB, limits, refuse_bytes, refuse_more

if TYPE_CHECKING:
    from dulwich.pack import Pack

    Bytes = bytes | memoryview | mmap.mmap

_WHOLE = "restore it from a copy or a handover bundle"
_KINDS = {b"commit": 1, b"tree": 2, b"blob": 3, b"tag": 4}
_HEADER = 64  # bytes before an object's content: a word and a number
BLOB, BY_PLACE, BY_NAME = 3, 6, 7  # kinds of objects in a pack


@dataclass(frozen=True)
class StatedSize:
    """What a pack says of an object: its kind, its size, how far it is from one stored whole."""

    kind: int
    size: int
    chain: int = 0
    behind: int = 0  # bytes of all that it is a change of


def _unpacked(packed: bytes, most: int) -> tuple[int, bytes]:
    """Kind and content of an object as a file of its own holds it."""
    stream = zlib.decompressobj()
    text = stream.decompress(packed, most + _HEADER)
    if not stream.eof and stream.unconsumed_tail:
        refuse_bytes(most + 1, most, "an object")
    head, _, content = text.partition(b"\0")
    word, _, size = head.partition(b" ")
    if word not in _KINDS or not size.isdigit() or int(size) != len(content) or not stream.eof:
        raise ObjectFormatException("not a whole object")
    refuse_bytes(len(content), most, "an object")
    return _KINDS[word], content


class Objects(DiskObjectStore):
    """dulwich's store of one repository, with limits on all of it."""

    def __init__(self, folder: Path) -> None:
        self._limits = limits()
        super().__init__(
            folder,
            fsync_object_files=True,
            loose_object_size_limit=self._limits.one,
            max_tree_depth=self._limits.depth,
        )
        self._sizes: dict[str, Sizes] = {}
        self._alone = threading.RLock()  # dulwich reads a pack by one file's position

    def get_midx(self) -> None:
        """No list over several packs is believed."""
        return None

    def get_raw(self, name: RawObjectID | ObjectID) -> tuple[int, bytes]:
        """Kind and content of an object. TooLarge instead of more than is good."""
        raw = hex_to_sha(ObjectID(name)) if len(name) == 40 else RawObjectID(name)

        def read(pack: Pack) -> tuple[int, bytes]:
            at = pack.index.object_offset(raw)
            self.sizes(pack).refuse_large(at)
            return pack.get_raw(raw)

        found = self._from_file(raw)
        if found is None:
            with self._alone:
                found = self._lookup_in_packs(read)
        kind, data = found
        if kind != BLOB:
            refuse_bytes(len(data), self._limits.listing, "a commit, a tag or a folder's list")
        return kind, data

    def __contains__(self, name: ObjectID) -> bool:
        with self._alone:
            return super().__contains__(name)

    def _from_file(self, raw: RawObjectID) -> tuple[int, bytes] | None:
        """Kind and content of an object in a file of its own; None where there is no such file.

        Looked for before the packs, because most are there and a pack's folder is then not listed.
        """
        name = raw.hex()
        path = f"{os.fspath(self.path)}/{name[:2]}/{name[2:]}"
        try:
            found = os.stat(path)
            if not stat.S_ISREG(found.st_mode):
                raise DamagedLedger(f"the object {name[:12]} is no ordinary file", hint=_WHOLE)
            refuse_bytes(found.st_size, self._limits.one + MB, "an object's file")
            with open(path, "rb") as file:
                packed = file.read()
        except (FileNotFoundError, NotADirectoryError):  # or packed by a git at this moment
            return None
        return _unpacked(packed, self._limits.one)

    def sizes(self, pack: Pack) -> Sizes:
        """What the objects of a pack unpack to."""
        place = str(pack.data.path)
        if place not in self._sizes:
            self._sizes[place] = Sizes(pack)
        return self._sizes[place]

    def close(self) -> None:
        """Let go of the files of all packs; who reads on has them opened again."""
        with self._alone:
            for sizes in self._sizes.values():
                sizes.close()
            self._sizes.clear()
            for pack in [*self._pack_cache.values()]:
                _let_go(pack)
            super().close()

    def refuse_bombs(self) -> None:
        """Refuse a repository whose objects unpack to far more than lies on the disk."""
        least = self._limits
        stated = [*self._packed(), *self._loose()]
        held = sum(size for kind, size in stated if kind == BLOB)
        lists = sum(size for kind, size in stated if kind != BLOB)
        files = Path(str(self.path)).rglob("*")
        here = sum(path.stat().st_size for path in files if path.is_file())
        most = least.all + least.growth * here
        if max(held, lists / 8) > most:
            what = f"what the repository's {here / MB:,.1f} MB hold"
            refuse_bytes(max(held, lists), most, what)

    def _packed(self) -> Iterator[tuple[int, int]]:
        for pack in self.packs:
            sizes = self.sizes(pack)
            for _, at, _ in pack.index.iterentries():
                with contextlib.suppress(ValueError, IndexError):  # damaged: reading it says so
                    found = sizes.refuse_large(at)
                    yield found.kind, found.size

    def _loose(self) -> Iterator[tuple[int, int]]:
        for path in Path(str(self.path)).glob("[0-9a-f][0-9a-f]/*"):
            if not path.is_file():
                continue  # reading it says so
            with path.open("rb") as file:
                try:
                    head = zlib.decompressobj().decompress(file.read(64), 32)
                    word, _, size = head.partition(b"\0")[0].partition(b" ")
                    yield (BLOB if word == b"blob" else 0), int(size)
                except (zlib.error, ValueError):
                    continue  # damaged: `verify` says so when it reads it


class Sizes:
    """One pack, looked at without unpacking anything but the openings of changes."""

    def __init__(self, pack: Pack) -> None:
        self._pack = pack
        self._limits = limits()
        with Path(str(pack.data.path)).open("rb") as file:
            self._data = mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ)
        self._known: dict[int, StatedSize] = {}

    def close(self) -> None:
        self._data.close()

    def refuse_large(self, at: int) -> StatedSize:
        """What stands at a place. TooLarge if it, or what it is a change of, is beyond limits."""
        waiting: list[tuple[int, int]] = []  # places, and what the change there makes
        on_the_way: set[int] = set()
        here: int | None = at
        while here is not None and here not in self._known:
            if here in on_the_way:
                raise DamagedLedger("an object in a pack is a change of itself", hint=_WHOLE)
            on_the_way.add(here)
            refuse_more(len(waiting), self._limits.chain, "changes of changes in a pack")
            kind, size, base = self._at(here)
            refuse_bytes(size, self._limits.one, "an object")
            if base is None and kind not in (BY_PLACE, BY_NAME):
                self._known[here] = StatedSize(kind, size)
                break
            waiting.append((here, size))
            here = base
        below = self._known.get(here) if here is not None else None
        for place, size in reversed(waiting):
            below = self._above(below, size)
            self._known[place] = below
        return self._known[at]

    def _above(self, below: StatedSize | None, size: int) -> StatedSize:
        if below is None:  # its base is not in this pack: reading it will say so
            return StatedSize(0, size)
        chain, behind = below.chain + 1, below.behind + below.size
        refuse_more(chain, self._limits.chain, "changes of changes in a pack")
        refuse_bytes(behind, 50 * self._limits.one, "an object stored as changes")
        return StatedSize(below.kind, size, chain, behind)

    def _at(self, at: int) -> tuple[int, int, int | None]:
        """Kind, size when unpacked, and the place of the base of what stands at a place."""
        data = self._data
        kind = (data[at] >> 4) & 7
        size, behind = number(data, at, first=4)
        if kind == BY_PLACE:
            distance, behind = way_back(data, behind)
            return kind, self._made(behind, size), at - distance if distance < at else None
        if kind == BY_NAME:
            base = RawObjectID(data[behind : behind + 20])
            try:
                place: int | None = self._pack.index.object_offset(base)
            except KeyError:
                place = None
            return kind, self._made(behind + 20, size), place
        return kind, size, None

    def _made(self, at: int, size: int) -> int:
        """How large the result of a change is: as stated, or as its orders add up."""
        refuse_bytes(size, self._limits.one, "a change of an object")
        stream = zlib.decompressobj()
        try:
            return made(
                stream.decompress(self._data[at : at + size + 1024], size), self._limits.one
            )
        except (zlib.error, IndexError, ValueError):
            return 0  # damaged: reading it will say so


def made(change: bytes, most: int) -> int:
    """How large the result of a change is: as it states, or what its orders add up to.

    >>> made(bytes([4, 3, 0x91, 1, 2, 1, 65]), 100)  # two bytes from the base, one of its own
    3
    """
    _, at = number(change, 0, first=7)
    stated, at = number(change, at, first=7)
    total, end = 0, len(change)
    while at < end and total <= most:
        order = change[at]
        at += 1
        if not order & 0x80:
            at, total = at + order, total + order
            continue
        at += (order & 0x0F).bit_count()
        size = 0
        for shift, bit in enumerate((0x10, 0x20, 0x40)):
            if order & bit:
                size |= change[at] << (8 * shift)
                at += 1
        total += size or 0x10000
    return max(stated, total)


def number(data: Bytes, at: int, first: int) -> tuple[int, int]:
    """A number in groups of seven bits, lowest first; `first` bits are in its first byte."""
    value, shift, width = 0, 0, first
    for place in range(at, min(at + 10, len(data))):
        value |= (data[place] & ((1 << width) - 1)) << shift
        shift, width = shift + width, 7
        if not data[place] & 0x80:
            return value, place + 1
    raise ValueError("a size cannot be read")


def way_back(data: Bytes, at: int) -> tuple[int, int]:
    """How far before an object its base stands, highest group first."""
    value = data[at] & 0x7F
    for place in range(at, min(at + 10, len(data) - 1)):
        if not data[place] & 0x80:
            return value, place + 1
        value = ((value + 1) << 7) | (data[place + 1] & 0x7F)
    raise ValueError("a way back cannot be read")


def _let_go(pack: Pack) -> None:
    """Close a pack, also where what found it damaged still holds a view of its bytes."""
    try:
        pack.close()
    except BufferError:
        data, index = pack._data, pack._idx
        for part in (data, index):
            file = getattr(part, "_file", None)
            if file is not None:
                file.close()
        if data is not None:
            setattr(data, "_file", None)  # noqa: B010 - else its end complains; typed as never None
        pack._data = pack._idx = None
