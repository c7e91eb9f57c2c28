"""Whether a job that is about to get a stage's name has one already."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.findings import Finding
from buildlog.store.ledger.entries import Entry
from buildlog.store.ledger.reader import Reader


def findings(ledger: Reader, stage: str | None, measures: bool, works: bool) -> Iterator[Finding]:
    """A caution where an entry that `measures` or `works` gets a second name for one job."""
    entries = ledger.entries() if stage else []
    last = next((one for one in reversed(entries) if one.stage), None)
    if last is not None and _same_job(ledger, last, entries[last.number :], measures, works):
        text = (
            f'entry {last.number} names this job "{last.stage}" already: `report {last.stage}` and '
            f"`report {stage}` will say the same"
        )
        yield Finding("stage-named-twice", "caution", text, hint="leave --stage out")


def _same_job(ledger: Reader, last: Entry, since: list[Entry], measures: bool, works: bool) -> bool:
    """The newest stage is work that nobody measured before this, or nothing was done since."""
    measured = any(ledger.adds_session(one) for one in (last, *since))
    if measures and last.kind == "build":
        return not measured
    return not (measures or works or any(one.kind == "build" for one in since))
