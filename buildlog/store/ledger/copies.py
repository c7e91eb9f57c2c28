"""What other copies of a ledger were last known to hold: git's own remote-tracking references.

They are written when `sync` has met another copy, and by a plain git that fetched or pushed;
so they say what was known then, whether or not the other copy can be reached now.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
from collections.abc import Iterable
from datetime import date
from pathlib import Path

from buildlog.errors import BuildlogError
from buildlog.store.disk import atomic
from buildlog.store.disk.lock import hold
from buildlog.store.git.repo import LISTS, MAIN, Repo
from buildlog.store.ledger import append, entries

_VERIFIED = "verified"
_REMOTES = "refs/remotes/"
_BRANCH = MAIN.rsplit("/", 1)[-1]
_PACKED = re.compile(rf"^([0-9a-f]{{40}}) {_REMOTES}(.+)/{_BRANCH}$", re.MULTILINE)


def note(repo: Repo, named: str, tip: str) -> None:
    """Write down that the copy called `named` holds `tip`.

    What cannot be noted is no harm: the sync itself is done, and the next one notes it.
    """
    reference = f"{_REMOTES}{_name(named)}/{_BRANCH}"
    with contextlib.suppress(BuildlogError, OSError), hold(repo.git, 5.0) as held:
        old = repo.reference(reference)
        if old != tip:
            append.move(repo, held, reference, old, tip)


def _name(named: str) -> str:
    """A name that git takes, tells people which copy it is, and holds no password."""
    last = re.split(r"[/\\:]", named.rstrip("/\\"))[-1].removesuffix(".git")
    word = re.sub(r"[^a-z0-9]+", "-", last.lower()).strip("-")[:24] or "copy"
    return f"{word}-{hashlib.sha256(named.encode()).hexdigest()[:8]}"


def known(folder: Path) -> frozenset[str]:
    """The tips that other copies were last known to hold, read without opening the repository."""
    git = folder / ".git"
    found: dict[str, str] = {}
    with contextlib.suppress(OSError, UnicodeDecodeError):
        packed = (git / "packed-refs").read_text("ascii")
        found |= {name: tip for tip, name in _PACKED.findall(packed)}
    with contextlib.suppress(OSError):
        for item in os.scandir(git / _REMOTES):
            with contextlib.suppress(OSError, UnicodeDecodeError):
                found[item.name] = Path(item.path, _BRANCH).read_text("ascii").strip()
    return frozenset(tip for tip in found.values() if re.fullmatch("[0-9a-f]{40}", tip))


def note_verified(repo: Repo, tip: str, day: date, verdict: str) -> None:
    """Write down that `verify` ran here, and what it found; where that cannot be written, not."""
    with contextlib.suppress(OSError, BuildlogError):
        text = f"{day.isoformat()} {tip} {verdict}\n"
        atomic.replace(repo.git / LISTS / _VERIFIED, text.encode())


def last_verified(repo: Repo) -> tuple[date, str, str] | None:
    """When `verify` ran here last, at which entry, and what it found; None if it never did."""
    try:
        said = (repo.git / LISTS / _VERIFIED).read_text("ascii")
        day, tip, verdict = said.split()
        return date.fromisoformat(day), tip, verdict
    except (OSError, ValueError):
        return None


def hold_it(repo: Repo, tips: Iterable[str], head: str) -> bool:
    """Whether any of the tips is the head or comes after it."""
    return any(tip == head or (repo.has(tip) and head in entries.graph(repo, tip)) for tip in tips)
