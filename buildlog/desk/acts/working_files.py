"""The doors to the working files: whatever is written there is written here."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager

from buildlog.records.toml.toml_place import Place
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.ledger.names import WORKING
from buildlog.store.ledger.taken_out import TakenOut

Edit = Callable[[bytes], bytes]


def create(ledger: Ledger, path: str, data: bytes) -> None:
    """A file that was not there; ChangedUnderYou where it is there now."""
    ledger.write_working(path, data, expect=b"")


def lay(ledger: Ledger, path: str, data: bytes) -> None:
    """A file that another will name: it is there with these bytes afterwards, and is no act by
    itself."""
    if path in ledger.working().files and ledger.read(WORKING, path) == data:
        return
    with beside_the_act(ledger):
        create(ledger, path, data)


@contextmanager
def beside_the_act(ledger: Ledger) -> Iterator[None]:
    """What is written inside is no act by itself: the act that is meant comes behind it."""
    act, ledger.act = ledger.act, None
    try:
        yield
    finally:
        ledger.act = act


def change(
    ledger: Ledger, path: str, edit: Callable[[bytes], bytes], seen: bytes | None = None,
    places: Sequence[Place] = (),
) -> tuple[bytes, bytes]:  # fmt: skip
    """The text of a file edited: before and after.

    `seen` is the text that the edit was meant for, where that was read earlier; `places` are what
    it changes, the whole file without them. What others changed elsewhere in the file meanwhile is
    kept; ChangedUnderYou if a place holds something else when it is written.
    """
    seen = ledger.read(WORKING, path) if seen is None else seen
    meant = edit(seen)  # before the lock, which is held for the writing alone
    if places:
        return ledger.change_working(
            path, lambda now: meant if now == seen else edit(now), seen, places
        )
    ledger.write_working(path, meant, expect=seen)
    return seen, meant


def take_out(ledger: Ledger, paths: Sequence[str], back: Mapping[str, bytes]) -> TakenOut:
    """Files that are not recorded taken out, those of `back` as they were recorded."""
    return ledger.take_out(paths, back)


def put_back(ledger: Ledger, one: TakenOut) -> None:
    """What was taken out, in the folder again."""
    ledger.put_back(one)


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
