"""Objects in packs: an entry's own, written whole, and many small ones gathered into one.

A pack is written as git writes one. Its `.keep` is there before it, so that a `git gc` or
`git prune` beside us takes nothing that no branch leads to yet.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
from collections.abc import Sequence
from pathlib import Path

from dulwich.object_format import SHA1
from dulwich.objects import ShaFile
from dulwich.pack import write_pack_index, write_pack_objects

from buildlog.store.disk import atomic
from buildlog.store.disk.lock import KEPT, SPOOL
from buildlog.store.git.objects import Objects

MANY = 50  # small packs, from which on they are gathered
_SMALL = 1024 * 1024  # bytes


def write(git: Path, objects: Sequence[ShaFile]) -> Path:
    """Write one pack, forced to the disk; its `.keep`, for whoever called to take away."""
    out = io.BytesIO()
    placed, checksum = write_pack_objects(out, list(objects), SHA1)
    entries = sorted((name, at, crc) for name, (at, crc) in placed.items())
    listed = io.BytesIO()
    write_pack_index(listed, entries, checksum, version=2)
    names = hashlib.sha1(b"".join(name for name, _, _ in entries), usedforsecurity=False)
    place = git / "objects" / "pack" / f"pack-{names.hexdigest()}"
    keep = place.with_suffix(".keep")
    for path, data in ((keep, KEPT), (place.with_suffix(".pack"), out.getvalue()),
                       (place.with_suffix(".idx"), listed.getvalue())):  # fmt: skip
        atomic.replace(path, data, spool=git / SPOOL, settle=False)
    atomic.fsync_folder(place.parent)
    return keep


def gather(git: Path, store: Objects, least: int = MANY) -> None:
    """Put the small packs into one, where there are many; nothing is left out of it.

    What cannot be read stays as it is: `verify` says so, and nobody waits for it here.
    """
    with contextlib.suppress(Exception):
        _gather(git, store, least)


def _gather(git: Path, store: Objects, least: int) -> None:
    small = [
        pack
        for pack in sorted((git / "objects" / "pack").glob("pack-*.pack"))
        if pack.stat().st_size < _SMALL and not pack.with_suffix(".keep").exists()
    ]
    if len(small) < least:
        return
    wanted = {path.name for path in small}
    found = [pack for pack in store.packs if Path(str(pack.data.path)).name in wanted]
    names = dict.fromkeys(name for pack in found for name in pack)
    keep = write(git, [store[name] for name in names])
    for pack in found:
        place = Path(str(pack.data.path))
        if place.stem != keep.stem:
            for ending in (".idx", ".pack", ".rev"):
                with contextlib.suppress(OSError):
                    place.with_suffix(ending).unlink()
    keep.unlink(missing_ok=True)
    atomic.fsync_folder(keep.parent)
