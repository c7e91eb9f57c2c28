"""What was worked out before, kept so that it need not be worked out again: a disposable index.

It lies in the user's cache folder, outside the ledgers, and is never the source of truth: each
item is kept under the ids of what it was made from (a head, blobs), so it cannot grow stale,
and with a digest of itself, so that a flipped bit makes it missing, not wrong. A file that
cannot be used is deleted and begun anew; where nothing can be kept, nothing is.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

FORMAT = 1  # of the file: a higher number makes another file, and the older one is forgotten
_PATIENCE = 5.0  # seconds to wait for another process that writes
_AT_ONCE = 500  # keys in one question
_TABLE = (
    "CREATE TABLE IF NOT EXISTS kept"
    " (kind TEXT, key TEXT, body BLOB, digest BLOB, PRIMARY KEY (kind, key)) WITHOUT ROWID"
)


def folder() -> Path:
    """The cache folder: $BUILDLOG_CACHE, else in the user's own."""
    named = os.environ.get("BUILDLOG_CACHE")
    if named:
        return Path(named)
    if os.name == "nt":
        base = os.environ.get("LOCALAPPDATA") or str(Path.home() / "AppData" / "Local")
    else:
        base = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    return Path(base) / "buildlog"


class Kept:
    """Items by kind and key; the answers are the same with it and without it.

    A kind says what was worked out and by which version of the working-out.
    """

    def __init__(self, path: Path | None = None) -> None:
        self.path = path or folder() / f"index-{FORMAT}.sqlite"
        self._connection: sqlite3.Connection | None = None
        self._usable = True

    def __enter__(self) -> Kept:
        return self

    def __exit__(self, *exc: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file."""
        if self._connection is not None:
            with contextlib.suppress(sqlite3.Error):
                self._connection.close()
        self._connection = None

    def get(self, kind: str, keys: Iterable[str]) -> dict[str, Any]:
        """What is kept under these keys; what is missing or damaged is left out."""
        wanted = list(dict.fromkeys(keys))
        found: dict[str, Any] = {}
        for start in range(0, len(wanted), _AT_ONCE):
            some = wanted[start : start + _AT_ONCE]
            marks = ",".join("?" * len(some))
            asked = f"SELECT key, body, digest FROM kept WHERE kind = ? AND key IN ({marks})"
            for key, body, digest in self._asked(asked, (kind, *some)):
                with contextlib.suppress(ValueError, TypeError, AttributeError):
                    if digest == _digest(kind, key, body):
                        found[key] = json.loads(body)
        return found

    def put(self, kind: str, items: Mapping[str, Any]) -> None:
        """Keep items, in place of what was kept under their keys."""
        rows = []
        for key, value in items.items():
            body = json.dumps(value, separators=(",", ":")).encode()
            rows.append((kind, key, body, _digest(kind, key, body)))
        if rows:
            self._written("INSERT OR REPLACE INTO kept VALUES (?, ?, ?, ?)", rows)

    def forget(self, kind: str, keys: Iterable[str]) -> None:
        """Drop what is kept under these keys."""
        self._written("DELETE FROM kept WHERE kind = ? AND key = ?", [(kind, key) for key in keys])

    # inside

    def _asked(self, question: str, values: tuple[str, ...]) -> list[tuple[Any, Any, Any]]:
        with self._guarded():
            connection = self._open()
            return connection.execute(question, values).fetchall() if connection else []
        return []

    def _written(self, statement: str, rows: list[tuple[Any, ...]]) -> None:
        for _ in range(2):  # the second time into a file begun anew
            with self._guarded():
                connection = self._open()
                if connection is not None:
                    connection.execute("BEGIN IMMEDIATE")
                    try:
                        connection.executemany(statement, rows)
                        connection.execute("COMMIT")
                    except BaseException:
                        with contextlib.suppress(sqlite3.Error):
                            connection.execute("ROLLBACK")
                        raise
                return

    @contextlib.contextmanager
    def _guarded(self) -> Iterator[None]:
        """A file that is damaged is begun anew; one that is only busy or closed is let be."""
        try:
            yield
        except (sqlite3.OperationalError, OSError) as error:
            busy = "locked" in str(error) or "busy" in str(error)
            self._give_up() if busy else self._begin_anew()
        except (sqlite3.DatabaseError, UnicodeDecodeError, OverflowError):
            self._begin_anew()

    def _open(self) -> sqlite3.Connection | None:
        if self._connection is None and self._usable:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            made = sqlite3.connect(self.path, timeout=_PATIENCE, isolation_level=None)
            self._connection = made
            made.execute("PRAGMA journal_mode = WAL")
            made.execute("PRAGMA synchronous = OFF")  # what a power cut takes is worked out again
            made.execute(_TABLE)
        return self._connection

    def _begin_anew(self) -> None:
        """Delete the file once; if it cannot be used then either, keep nothing."""
        again = self._connection is not None
        self.close()
        for ending in ("", "-wal", "-shm"):
            with contextlib.suppress(OSError):
                Path(f"{self.path}{ending}").unlink()
        if not again and not self._gone():
            self._usable = False

    def _gone(self) -> bool:
        try:
            return not self.path.exists()
        except OSError:  # not even allowed to look
            return False

    def _give_up(self) -> None:
        self.close()
        self._usable = False


def _digest(kind: str, key: str, body: bytes) -> bytes:
    text = f"{kind}\0{key}\0".encode() + body
    return hashlib.blake2b(text, digest_size=16).digest()
