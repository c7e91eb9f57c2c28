"""Record-sha256: the digest that chains the entries, whatever becomes of git's SHA-1.

Canonical form "buildlog-record/1" of a commit, in bytes, every line ended by one LF:

    buildlog-record/1
    parent <digest of the parent>                  one line per parent, in the commit's order
    author <author line>                           what follows "author " in the commit object
    message <sha256> <size>                        of the message without its digest line
    file <mode> <sha256> <size> <path>             one line per file of the tree

- The digest is the SHA-256 of these lines, in lower-case hex.
- A parent's digest is its own Record-sha256 if it has one, and else (a commit made by
  plain git, a merge) the digest of its own canonical form. So the chain has no gaps.
- The message is every byte after the commit's first empty line, less each line that
  starts with "Record-sha256: ". Of several digest trailers the last one counts.
- Files are those of `git ls-tree -r`, sorted by the bytes of the whole path; mode is the
  six octal digits printed there, path the bytes as stored, size in decimal.
- A submodule (mode 160000) has no content here: its sha256 and size are those of its
  40-digit commit id.

By hand: `git cat-file commit ID`, `git ls-tree -r -z ID`, `git cat-file blob ID | sha256sum`.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from buildlog.store.git.message import DIGEST_KEY, unsealed

FORM = b"buildlog-record/1"


@dataclass(frozen=True)
class EntryContent:
    """The digest and the size of one file's bytes."""

    sha256: str
    size: int

    @classmethod
    def of(cls, data: bytes) -> EntryContent:
        return cls(hashlib.sha256(data).hexdigest(), len(data))


def digest(
    parents: Iterable[str],
    author: bytes,
    message: bytes,
    files: Mapping[bytes, tuple[int, str]],
    content: Callable[[str, int], EntryContent],
) -> str:
    """The digest of a commit. `files`: path -> mode, object id; `content` answers for an object."""
    said = EntryContent.of(unsealed(message))
    lines = [FORM]
    lines += [b"parent " + parent.encode() for parent in parents]
    lines.append(b"author " + author)
    lines.append(f"message {said.sha256} {said.size}".encode())
    for path, (mode, object_id) in sorted(files.items()):
        held = content(object_id, mode)
        lines.append(f"file {mode:06o} {held.sha256} {held.size} ".encode() + path)
    return hashlib.sha256(b"".join(line + b"\n" for line in lines)).hexdigest()


def recorded(message: bytes) -> str | None:
    """The digest a message carries; None for a commit that buildlog did not make."""
    prefix = f"{DIGEST_KEY}: ".encode()
    found = [line for line in message.split(b"\n") if line.startswith(prefix)]
    return found[-1][len(prefix) :].strip().decode("ascii", "replace") if found else None
