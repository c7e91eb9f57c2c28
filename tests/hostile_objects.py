"""git objects, packs and bundles as nobody's git would write them: bombs, chains, cycles.

Everything is written byte by byte, so that no tool's own care stands between the test and
the program. Names of objects are true (SHA-1 of the content) unless a test says otherwise.
"""

from __future__ import annotations

import hashlib
import struct
import zlib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

KINDS = {"commit": 1, "tree": 2, "blob": 3, "tag": 4}
BY = b"A Friend <friend@example.invalid> 1767690000 +0000"


@dataclass(frozen=True)
class Packed:
    """One object of a pack: its name, and its bytes from the pack's type byte on."""

    name: bytes  # 20 bytes
    data: bytes


def name(kind: str, data: bytes) -> bytes:
    """The 20 bytes of an object's id."""
    head = b"%s %d\0" % (kind.encode(), len(data))
    return hashlib.sha1(head + data, usedforsecurity=False).digest()


def whole(kind: str, data: bytes) -> Packed:
    return Packed(name(kind, data), head(KINDS[kind], len(data)) + zlib.compress(data, 1))


def head(kind: int, size: int) -> bytes:
    """A pack's type and size, in groups of seven bits."""
    byte, size = (kind << 4) | (size & 15), size >> 4
    out = bytearray()
    while size:
        out.append(byte | 0x80)
        byte, size = size & 0x7F, size >> 7
    return bytes([*out, byte])


def number(value: int) -> bytes:
    """A delta's size."""
    out = bytearray()
    while value > 0x7F:
        out.append((value & 0x7F) | 0x80)
        value >>= 7
    return bytes([*out, value])


def back(distance: int) -> bytes:
    """How far before an object its base stands."""
    out = [distance & 0x7F]
    while distance := distance >> 7:
        distance -= 1
        out.insert(0, 0x80 | (distance & 0x7F))
    return bytes(out)


def delta(base_size: int, size: int, orders: bytes) -> bytes:
    return number(base_size) + number(size) + orders


def on_offset(object_name: bytes, distance: int, data: bytes) -> Packed:
    return Packed(object_name, head(6, len(data)) + back(distance) + zlib.compress(data))


def on_name(object_name: bytes, base: bytes, data: bytes) -> Packed:
    return Packed(object_name, head(7, len(data)) + base + zlib.compress(data))


def zeros(kind: str, size: int, before: bytes = b"") -> Packed:
    """A great deal of nothing: `before`, then zeros up to a size, made without holding it."""
    opening = b"%s %d\0" % (kind.encode(), size) + before
    name, out = _packed(opening, before, size - len(before))
    return Packed(name, head(KINDS[kind], size) + out)


def loose(folder: Path, kind: str, size: int, before: bytes = b"") -> bytes:
    """The same as a file of its own in a repository; the object's name."""
    opening = b"%s %d\0" % (kind.encode(), size) + before
    name, out = _packed(opening, opening, size - len(before))
    place = folder / ".git/objects" / name.hex()[:2] / name.hex()[2:]
    place.parent.mkdir(exist_ok=True)
    place.write_bytes(out)
    return name


def _packed(hashed: bytes, packed: bytes, zeros: int) -> tuple[bytes, bytes]:
    """Two beginnings with zeros behind them: the digest of one, the other compressed."""
    digest = hashlib.sha1(hashed, usedforsecurity=False)
    packer = zlib.compressobj(9)
    out = bytearray(packer.compress(packed))
    block = bytes(1 << 20)
    while zeros:
        part = block[: min(zeros, len(block))]
        digest.update(part)
        out += packer.compress(part)
        zeros -= len(part)
    return digest.digest(), bytes(out + packer.flush())


def tree(items: Iterable[tuple[str, str, bytes]]) -> bytes:
    """A tree's content from (mode, name, 20 bytes)."""
    return b"".join(f"{mode} {path}".encode() + b"\0" + oid for mode, path, oid in items)


def commit(tree_name: bytes, parents: Iterable[bytes] = (), message: bytes = b"x\n") -> bytes:
    lines = [b"tree " + tree_name.hex().encode()]
    lines += [b"parent " + parent.hex().encode() for parent in parents]
    return b"\n".join([*lines, b"author " + BY, b"committer " + BY, b"", message])


def pack(objects: Iterable[Packed]) -> tuple[bytes, bytes]:
    """A pack and its index (version 2)."""
    items = list(objects)
    body = bytearray(b"PACK\0\0\0\2" + struct.pack(">L", len(items)))
    rows = []
    for item in items:
        rows.append((item.name, zlib.crc32(item.data), len(body)))
        body += item.data
    body += hashlib.sha1(body, usedforsecurity=False).digest()
    rows.sort()
    counts = [0] * 256
    for oid, _, _ in rows:
        counts[oid[0]] += 1
    table, total = [], 0
    for count in counts:
        total += count
        table.append(total)
    index = b"\xfftOc\0\0\0\2" + struct.pack(">256L", *table)
    index += b"".join(oid for oid, _, _ in rows)
    index += struct.pack(f">{len(rows)}L", *(crc for _, crc, _ in rows))
    index += struct.pack(f">{len(rows)}L", *(at for _, _, at in rows))
    index += bytes(body[-20:])
    index += hashlib.sha1(index, usedforsecurity=False).digest()
    return bytes(body), index


def into(folder: Path, objects: Iterable[Packed], tip: bytes) -> None:
    """A pack beside what a ledger holds already, and `main` moved onto a commit of it."""
    packed, index = pack(objects)
    place = folder / ".git/objects/pack"
    (place / f"pack-{packed[-20:].hex()}.pack").write_bytes(packed)
    (place / f"pack-{packed[-20:].hex()}.idx").write_bytes(index)
    (folder / ".git/refs/heads/main").write_text(tip.hex() + "\n")


def bundle(objects: Iterable[Packed], tip: bytes) -> bytes:
    """A git bundle of these objects alone."""
    name_ = tip.hex().encode()
    lines = b"# v2 git bundle\n" + name_ + b" HEAD\n" + name_ + b" refs/heads/main\n\n"
    return lines + pack(objects)[0]
