"""The files of a session in the working folder: all of them, or none.

A new session is laid out in a folder of its own and moved into place in one step. Files for a
session that exists are written first and named by session.toml last; what was written before
a failure is taken away again.
"""

from __future__ import annotations

import contextlib
import errno
import os
import re
import secrets
import shutil
import unicodedata
from collections.abc import Iterable, Mapping
from pathlib import Path

from buildlog.errors import ChangedUnderYou, InvalidInput
from buildlog.records.toml.plain_text import hidden
from buildlog.store.disk import atomic
from buildlog.store.disk.lock import SPOOL
from buildlog.store.git import ledger_files
from buildlog.store.ledger.ledger import Ledger, refuse_links
from buildlog.store.ledger.working import read

SESSION = "session.toml"
_LONGEST = 60


def safe_name(name: str, session: str, taken: Iterable[str]) -> str:
    """A raw file's name as every computer can hold it, numbered if it is taken.

    >>> safe_name("Lauf: 1.csv", "2026-03-14-baseline", ["lauf-1.csv"])
    'Lauf-1-2.csv'
    """
    plain = "".join("-" if hidden(c) else c for c in unicodedata.normalize("NFC", name))
    plain = re.sub(r'[<>:"/\\|?*\s-]+', "-", plain).strip("-. ~") or "raw"
    stem, dot, ending = plain.rpartition(".")
    stem, dot, ending = (stem, dot, ending) if stem else (ending, "", "")
    stem, ending = stem[:_LONGEST].rstrip("-. "), ending[:12]
    known = {one.casefold() for one in (*taken, SESSION)}
    for number in range(1, 10_000):
        found = f"{stem}{f'-{number}' if number > 1 else ''}{dot}{ending}"
        path = f"dyno/{session}/{found}"
        if found.casefold() in known:
            continue
        if not ledger_files.refusal(path) and ledger_files.kind_of(path) == "raw":
            return found
    return safe_name(f"raw-{stem}-{ending}.txt", session, taken)


def refuse_session_name(session: str) -> None:
    """InvalidInput if a folder under dyno cannot have this name."""
    path = f"dyno/{session}/{SESSION}"
    reason = ledger_files.refusal(path)
    if reason or ledger_files.kind_of(path) != "session":
        raise InvalidInput(f'the session name "{session}" {reason or "names no folder of dyno"}')


def write_session(
    ledger: Ledger, session: str, files: Mapping[str, bytes], text: bytes, before: bytes | None
) -> None:
    """Write a session's new files and its session.toml; `before` is what that file held, if any."""
    place = ledger.folder / "dyno" / session
    with ledger.writing():
        refuse_links(ledger.folder, f"dyno/{session}")
        with ledger.acting(f"dyno/{session}/{SESSION}", before, text):
            if before is None:
                _whole(ledger, place, {**files, SESSION: text})
            else:
                _more(ledger, place, files, text, before)


def _whole(ledger: Ledger, place: Path, files: Mapping[str, bytes]) -> None:
    spool = ledger.repo.git / SPOOL
    for stale in spool.glob("session.*.part"):  # of a dead process: we hold the lock
        shutil.rmtree(stale, ignore_errors=True)
    draft = spool / f"session.{os.getpid()}.{secrets.token_hex(4)}.part"
    try:
        for name, data in files.items():
            atomic.replace(draft / name, data, settle=False)
        atomic.fsync_folder(draft)
        atomic.make_folder(place.parent)
        _move(draft, place)
    finally:
        shutil.rmtree(draft, ignore_errors=True)
    atomic.fsync_folder(place.parent)


def _move(draft: Path, place: Path) -> None:
    """One rename: it succeeds only where there is nothing, or an empty folder."""
    try:
        atomic.move_folder(draft, place)
    except OSError as error:
        if error.errno in (errno.ENOTEMPTY, errno.EEXIST):
            raise refuse_taken(place.name) from None
        raise


def refuse_taken(session: str) -> InvalidInput:
    """What is wrong where a new session's folder holds files already."""
    return InvalidInput(
        "there are files in this folder already, and no session.toml",
        where=f"dyno/{session}",
        hint="move them out of the folder, and add them with buildlog dyno add",
    )


def _more(
    ledger: Ledger, place: Path, files: Mapping[str, bytes], text: bytes, before: bytes
) -> None:
    if read(place, SESSION) != before:
        raise ChangedUnderYou("session.toml was changed meanwhile", hint="do it again")
    new = [place / name for name in files if not (place / name).exists()]
    try:
        for path in new:
            atomic.replace(path, files[path.name], spool=ledger.repo.git / SPOOL)
        atomic.replace(place / SESSION, text, spool=ledger.repo.git / SPOOL)
    except BaseException:  # what was new is taken away again, unless session.toml names it by now
        for path in new if read(place, SESSION) == before else ():
            with contextlib.suppress(OSError):
                path.unlink()
        raise
