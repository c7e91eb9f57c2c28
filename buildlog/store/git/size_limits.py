"""How much of what others made is read: a few kilobytes can unpack to more than a computer has.

What came as one file (a bundle, a package, a server's answer) is held to all of these; a
folder on the disk only to those of one object, of one version and of the number of entries,
for a shop's own ledger may have grown for decades. BUILDLOG_LARGE=1 raises them everywhere.
"""

from __future__ import annotations

import os
from dataclasses import dataclass

from buildlog.errors import DamagedLedger

MB = 1024 * 1024
RAISE = "if it is one car's history all the same, set BUILDLOG_LARGE=1 and do it again"


class TooLarge(DamagedLedger):
    """More than this program takes from anybody; nothing says that it is damaged."""


@dataclass(frozen=True)
class SizeLimits:
    """Bytes are those after unpacking."""

    one: int = 32 * MB  # an object: a raw file of 25 MB enters a ledger whole
    listing: int = 4 * MB  # a commit, a tag, a folder's list of names
    all: int = 256 * MB  # everything in one file that came
    objects: int = 20_000  # in one file that came
    missing: int = 200_000  # that one of two folders lacks
    commits: int = 20_000  # in a history
    files: int = 100_000  # and folders, of one version
    depth: int = 16  # folders in folders
    chain: int = 4_095  # objects stored as changes of each other: the most that git makes
    growth: int = 200  # a folder's objects, unpacked over what lies on the disk, beyond `all`
    header: int = 256 * 1024  # a bundle's list of references


LARGE = SizeLimits(
    one=256 * MB, listing=64 * MB, all=2048 * MB, objects=2_000_000, missing=2_000_000,
    commits=1_000_000, files=1_000_000, growth=5_000,
)  # fmt: skip


def limits() -> SizeLimits:
    """The limits that hold now."""
    return LARGE if os.environ.get("BUILDLOG_LARGE") == "1" else SizeLimits()


def refuse_more(count: int, most: int, of_what: str) -> None:
    """Refuse a number that is beyond its limit, in one sentence."""
    if count > most:
        raise TooLarge(f"{of_what}: at most {most:,} are read", hint=RAISE)


def refuse_bytes(size: int, most: int, what: str) -> None:
    """Refuse a size that is beyond its limit, in one sentence."""
    if size > most:
        text = f"{what}: {in_mb(size)} once unpacked, at most {in_mb(most)} is read"
        raise TooLarge(text, hint=RAISE)


def in_mb(size: int) -> str:
    return f"{-(-size // MB):,} MB"  # rounded up: more than a limit never reads like it
