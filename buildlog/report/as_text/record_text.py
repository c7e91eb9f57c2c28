"""What is about to be recorded, and what was."""

from __future__ import annotations

from buildlog.analysis.car.recorded import EntryMade, Outlook, Recorded
from buildlog.report.as_text.changes_text import change_lines
from buildlog.report.lines import finding_lines

_FILES = 12  # new files that are listed


def outlook_lines(found: Outlook) -> list[str]:
    """What is about to be recorded."""
    lines = [f"{found.kind}: {found.subject}", *change_lines(found.changes)]
    if found.first:
        lines.append("  the configuration as it stands in car.toml")
    others = [path for path in found.added if path != "car.toml"]
    lines += [f"  new file   {path}" for path in others[:_FILES]]
    if len(others) > _FILES:
        lines.append(f"  and {len(others) - _FILES} more new files")
    lines += [f"  changed    {path}" for path in found.changed if path != "car.toml"]
    unknown = found.odometer == "unknown"
    known = 'unknown (--odometer "42310 mi" if it can be read)' if unknown else found.odometer
    return [*lines, f"  odometer   {known}", *finding_lines(found.findings)]


def recorded_lines(done: Recorded) -> list[str]:
    """The entry, and what comes next."""
    if done.entry is None:
        return ["nothing was recorded (--dry-run)"]
    signed = ", signed" if done.entry.signed else ""
    lines = [f"recorded: {entry_words(done.entry)}, {done.entry.kind}{signed}"]
    if not done.shop_named:
        lines.append('  note: no shop is named; buildlog new --shop "NAME" or your settings file')
    return [*lines, f"next: buildlog {'next' if done.entry.number > 1 else 'show'}"]


def entry_words(entry: EntryMade) -> str:
    """ "entry 12, 3fa81c02"."""
    return f"entry {entry.number}, {entry.id[:8]}"
