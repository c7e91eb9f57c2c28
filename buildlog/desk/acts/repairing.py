"""The branch that holds a history, set anew where it is lost or torn."""

from __future__ import annotations

from buildlog.store.ledger.ledger import Ledger
from buildlog.store.verify import branch_repair
from buildlog.store.verify.branch_repair import RepairDone


def repair(ledger: Ledger, to: str | None = None, *, dry_run: bool = False) -> RepairDone:
    """Adopt the only whole line that is proven, or the one whose id (40 digits) a person typed."""
    return branch_repair.repair(ledger, to, dry_run=dry_run)
