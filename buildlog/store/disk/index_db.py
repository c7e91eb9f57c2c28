"""What was worked out before, kept so that it need not be worked out again: a disposable index.

It lies in the user's cache folder, outside the ledgers, and is never the source of truth: each
item is kept under the ids of what it was made from (a head, blobs), so it cannot grow stale,
and with a digest of itself, so that a flipped bit makes it missing, not wrong. A damaged file is
deleted and begun anew, and nothing else is ever a reason to delete it; where nothing can be
kept, nothing is. Threads may share it: one after the other they use its connection.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import sqlite3
import threading
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from buildlog.store.disk.user_folders import cache_folder

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
    return Path(named) if named else cache_folder()


# What SQLite answers for a file that is no database of ours, or no longer one. ERROR: the
# statements are always the same, so it is the table that is another one.
_DAMAGED = {
    sqlite3.SQLITE_CORRUPT,
    sqlite3.SQLITE_ERROR,
    sqlite3.SQLITE_FORMAT,
    sqlite3.SQLITE_NOTADB,
}
_MISUSED = (sqlite3.ProgrammingError, sqlite3.InterfaceError)  # by a program, whatever the file


class Kept:
    """Items by kind and key; the answers are the same with it and without it.

    A kind says what was worked out and by which version of the working-out. Threads may share
    one; `close` is for when they are done.
    """

    def __init__(self, path: Path | None = None) -> None:
        self.path = path or folder() / f"index-{FORMAT}.sqlite"
        self._connection: sqlite3.Connection | None = None
        self._file: tuple[int, int] | None = None  # which one the connection was made to
        self._usable = True
        self._alone = threading.RLock()

    @classmethod
    def nothing(cls) -> Kept:
        """One that keeps nothing, for whoever must not be answered from the index."""
        made = cls(Path(os.devnull))
        made._usable = False
        return made

    @property
    def usable(self) -> bool:
        """Whether it keeps anything, as far as is known yet."""
        return self._usable

    def __enter__(self) -> Kept:
        return self

    def __exit__(self, *exc: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file."""
        with self._alone:
            held, self._connection = self._connection, None
            if held is not None:
                with contextlib.suppress(sqlite3.Error):
                    held.close()

    __del__ = close

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
        """A damaged file is begun anew; one that is only busy, full or closed to us is let be."""
        with self._alone:
            try:
                yield
            except (UnicodeDecodeError, OverflowError):
                self._begin_anew()
            except OSError:
                self._give_up()
            except sqlite3.Error as error:
                code = getattr(error, "sqlite_errorcode", None)
                if code == sqlite3.SQLITE_READONLY_DBMOVED:
                    self.close()  # another process began it anew
                elif self._is_damage(error, code):
                    self._begin_anew()
                else:
                    self._give_up()

    def _is_damage(self, error: sqlite3.Error, code: int | None) -> bool:
        if code is None:  # raised on reading a value, not by SQLite
            return not isinstance(error, _MISUSED)
        if code == sqlite3.SQLITE_READONLY:  # by what stands in it, where the disk allows writing
            return os.access(self.path, os.W_OK)
        return code & 0xFF in _DAMAGED or code == sqlite3.SQLITE_IOERR_SHORT_READ

    def _open(self) -> sqlite3.Connection | None:
        if self._connection is None and self._usable:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            self._connection = made = sqlite3.connect(
                self.path, timeout=_PATIENCE, isolation_level=None, check_same_thread=False
            )
            self._file = _identity(self.path)
            made.execute("PRAGMA journal_mode = WAL")
            made.execute("PRAGMA synchronous = OFF")  # a power cut's loss is worked out anew
            made.execute(_TABLE)
        return self._connection

    def _begin_anew(self) -> None:
        """Delete the file that the connection was made to, and no other."""
        self.close()
        if self._file is not None and self._file == _identity(self.path):
            for ending in ("", "-wal", "-shm"):
                with contextlib.suppress(OSError):
                    Path(f"{self.path}{ending}").unlink()
            self._usable = _identity(self.path) != self._file

    def _give_up(self) -> None:
        self.close()
        self._usable = False


def _identity(path: Path) -> tuple[int, int] | None:
    """Which file lies at a path now."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino


def _digest(kind: str, key: str, body: bytes) -> bytes:
    text = f"{kind}\0{key}\0".encode() + body
    return hashlib.blake2b(text, digest_size=16).digest()
