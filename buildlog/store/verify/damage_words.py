"""What `verify` says when something is not as it was."""

from __future__ import annotations

from buildlog.errors import BuildlogError, DamagedLedger
from buildlog.findings import Finding
from buildlog.store.git.size_limits import TooLarge

TOO_LARGE = "too-large"


def altered(code: str, text: str, where: str) -> Finding:
    """Something contradicts what was recorded; `where` is the commit's id."""
    hint = "compare with another copy of this ledger from before"
    return Finding(code, "error", text, where=where, hint=hint)


def fault(code: str, error: Exception, where: str | None = None) -> Finding:
    """Something cannot be read: it is damaged, or larger than what is read."""
    if not isinstance(error, BuildlogError):
        what = f"something here cannot be read ({type(error).__name__}: {error})"[:200]
        error = DamagedLedger(what, hint="restore it from a copy or a handover bundle")
    code = TOO_LARGE if isinstance(error, TooLarge) else code
    return Finding(code, "error", error.what, where=where, hint=error.hint)
