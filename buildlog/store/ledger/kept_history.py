"""A long history kept in the index, so that `history` reads only what came since.

The kept entries count only if the present tip leads back to the tip they were read from, commit
by commit; else all is read anew. Whatever writes, and `verify`, never use it.
"""

from __future__ import annotations

import hashlib
from dataclasses import fields
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from buildlog.store.disk.index_db import Kept
from buildlog.store.git.repo import Repo
from buildlog.store.ledger import entries
from buildlog.store.ledger.entries import Entry

if TYPE_CHECKING:
    from dulwich.objects import Commit

WORTH_KEEPING = 100  # entries: fewer are read sooner than looked up
_NAMES = [field.name for field in fields(Entry)]
_KIND = "history/" + hashlib.sha256(" ".join(_NAMES).encode()).hexdigest()[:8]
_DATE, _MOMENT, _PARENTS = (_NAMES.index(n) for n in ("work_date", "recorded_at", "parents"))


def history(repo: Repo, folder: Path, tip: str | None, kept: Kept | None = None) -> list[Entry]:
    """All entries, as `entries.history` gives them."""
    read = _newest(repo, tip)
    if len(read) < WORTH_KEEPING:
        return entries.history(repo, tip, read)
    with kept or Kept() as index:
        key = str(folder)
        known_tip, known = _unpacked(index.get(_KIND, [key]).get(key))
        if known_tip is None:
            found = entries.history(repo, tip, read)
        else:
            found = entries.extend(repo, tip, known_tip, known)
        if tip != known_tip:
            index.put(_KIND, {key: {"tip": tip, "entries": [*map(_row, found)]}})
    return found


def _newest(repo: Repo, tip: str | None) -> dict[str, Commit]:
    """The newest commits along first parents: as many as decide whether the history is long."""
    read: dict[str, Commit] = {}
    while tip and len(read) < WORTH_KEEPING:
        read[tip] = repo.commit(tip)
        tip = read[tip].parents[0].decode() if read[tip].parents else None
    return read


def _row(entry: Entry) -> list[Any]:
    row = [getattr(entry, name) for name in _NAMES]
    row[_DATE] = entry.work_date.isoformat()
    row[_MOMENT] = int(entry.recorded_at.timestamp())
    return row


def _unpacked(body: Any) -> tuple[str | None, list[Entry]]:
    try:
        return body["tip"], [_entry(row) for row in body["entries"]]
    except (TypeError, KeyError, ValueError, IndexError, OverflowError):
        return None, []


def _entry(row: list[Any]) -> Entry:
    row[_DATE] = date.fromisoformat(row[_DATE])
    row[_MOMENT] = datetime.fromtimestamp(row[_MOMENT], UTC)
    row[_PARENTS] = tuple(row[_PARENTS])
    return Entry(**dict(zip(_NAMES, row, strict=True)))
