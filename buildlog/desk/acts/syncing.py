"""Two copies of one ledger brought to the same state."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from buildlog.records.merge import Side as Side
from buildlog.store.exchange import two_copies
from buildlog.store.exchange.remote import remote
from buildlog.store.exchange.two_copies import Decide, Synced
from buildlog.store.exchange.two_copies import SyncQuestion as SyncQuestion
from buildlog.store.git.transport import Ask as Ask
from buildlog.store.ledger import copies
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.ledger.names import PLANS


def sync(
    ledger: Ledger,
    place: str,
    decide: Decide,
    *,
    plans: bool = False,
    dry_run: bool = False,
    password: Ask | None = None,
    attended: bool = False,
) -> Synced:
    """Exchange with a folder or a git server what either side recorded; nothing is overwritten.

    `decide` settles what both sides changed differently, `password` gives a name and a password
    for a server; `attended` says whether a program that connects may ask a person, too.
    """
    other = remote(place, password, attended=attended)
    done = two_copies.sync(ledger, other, decide, dry_run=dry_run, plans=plans)
    if done.tip and not dry_run:
        folder = Path(place.removeprefix("file://"))  # by one name wherever it is typed
        copies.note(ledger.repo, f"{folder.resolve()}" if folder.is_dir() else place, done.tip)
    kept = () if plans else tuple(ledger.repo.references(PLANS))
    return replace(done, plans_kept=kept)
