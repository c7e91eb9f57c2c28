"""The entries of a ledger for other programs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from buildlog.records.recorded_peak import recorded_peak
from buildlog.report.numbers import kilometres

if TYPE_CHECKING:
    from buildlog.store.ledger.entries import Entry


def history_json(entries: Sequence[Entry]) -> dict[str, Any]:
    """The body of `history --json`, first to last."""
    return {"entries": [_entry(entry) for entry in entries]}


def _entry(entry: Entry) -> dict[str, Any]:
    peak = recorded_peak(entry.measured)
    return {
        "entry": entry.number,
        "id": entry.id,
        "kind": entry.kind,
        "stage": entry.stage,
        "date": entry.work_date.isoformat(),
        "odometer_km": kilometres(entry.odometer_m),
        "subject": entry.subject,
        "changed": entry.changed,
        "done_by": entry.done_by,
        "approved_by": entry.approved_by,
        "corrects": entry.corrects,
        "resolves": entry.resolves,
        "approves": entry.approves,
        "recorded_outside": entry.recorded_outside,
        "carries_signature": entry.signed,
        "peak_wheel_power_w": peak.power_w if peak else None,
    }
