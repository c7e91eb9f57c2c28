"""A history that was taken over."""

from __future__ import annotations

from buildlog.report.lines import finding_lines, wrap
from buildlog.store.exchange.passing_on import Received


def received_lines(done: Received) -> list[str]:
    """Where it is, how to know that it is the right one, what was odd."""
    lines = wrap(
        f"received: {done.entries} entries, unbroken; the ledger is in {done.folder}", 2, 0
    )
    lines += wrap(f"fingerprint {done.fingerprint}: compare it with the one on paper", 2, 0)
    lines += ["  recorded and signed that it was taken over"] if done.taken_over else []
    return [*lines, *finding_lines(done.findings), f"next: cd {done.folder} && buildlog next"]
