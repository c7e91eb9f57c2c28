"""Care of the repository itself; the history stays as it is."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from buildlog.store.ledger.ledger import Ledger
    from buildlog.store.verify.repacking import Packed


def pack(ledger: Ledger) -> Packed:
    """Pack the objects into fewer, smaller files, and check the pack."""
    from buildlog.store.verify import repacking

    return repacking.pack(ledger)
