"""Two copies of one ledger brought to the same state."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from buildlog.errors import NotFound
from buildlog.records.merge import Side as Side
from buildlog.store.exchange import two_copies
from buildlog.store.exchange.remote import StrayLine, remote
from buildlog.store.exchange.two_copies import Decide, Synced
from buildlog.store.exchange.two_copies import SyncQuestion as SyncQuestion
from buildlog.store.git.transport import Ask as Ask
from buildlog.store.ledger import copies, recorded
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


def join_beside(ledger: Ledger, decide: Decide, *, dry_run: bool = False) -> Synced:
    """Join what was recorded and stands beside this history in the same folder, line by line.

    The last line that is joined says what came in all.
    """
    found = recorded.strays(ledger.repo, ledger.entries())
    if not found:
        raise NotFound("nothing stands beside this history", hint="buildlog verify looks at all")
    done = Synced("equal")
    for tip in recorded.tips(ledger.repo, found):
        now = two_copies.sync(ledger, StrayLine(tip), decide, dry_run=dry_run)
        done = replace(now, received=(*done.received, *now.received), sent=())
    return done
