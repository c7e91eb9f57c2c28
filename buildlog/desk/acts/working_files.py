"""The doors to the working files: whatever is written there is written here."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from buildlog.store.ledger.ledger import Ledger


def create(ledger: Ledger, path: str, data: bytes) -> None:
    """A file that was not there; ChangedUnderYou where it is there now."""
    ledger.write_working(path, data, expect=b"")


def change(
    ledger: Ledger, path: str, edit: Callable[[bytes], bytes], seen: bytes | None = None
) -> tuple[bytes, bytes]:
    """The text of a file edited: before and after.

    `seen` is the text that the edit was meant for, where that was read earlier.
    ChangedUnderYou if the file holds another one when it is written.
    """
    from buildlog.store.ledger.names import WORKING

    before = ledger.read(WORKING, path) if seen is None else seen
    after = edit(before)
    ledger.write_working(path, after, expect=before)
    return before, after


def put_session(
    ledger: Ledger, name: str, raw: Mapping[str, bytes], text: bytes, seen: bytes | None
) -> None:
    """A session with its raw files, or more of them for one that holds the text `seen`."""
    from buildlog.store.ledger.draft import Draft
    from buildlog.store.ledger.session_files import write_session

    if isinstance(ledger, Draft):
        ledger.write_session(name, raw, text, seen)
    else:
        write_session(ledger, name, raw, text, seen)
