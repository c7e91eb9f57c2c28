"""What acts did, and what was written, with the line that comes next."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from buildlog.analysis.car.written import (
    Attached,
    EntryMade,
    FieldsSet,
    KeyEntered,
    KeyState,
    Outlook,
    OwnThings,
    Recorded,
    Redaction,
    WorkAdded,
)
from buildlog.report.as_text.changes_text import change_lines, value_text
from buildlog.report.lines import finding_lines, table, wrap
from buildlog.report.numbers import count

if TYPE_CHECKING:
    from buildlog.store.exchange.passing_on import Received
    from buildlog.store.verify.repacking import Packed


def started_lines(car: Path) -> list[str]:
    """A ledger begun, by the path of its car.toml."""
    folder = car.parent
    return [
        f"started a ledger in {folder}",
        f"  fill in   {car}",
        "  what is not known is left out; buildlog lists it as missing",
        f"next: cd {shlex.quote(str(folder))} && buildlog check",
    ]


def set_lines(done: FieldsSet) -> list[str]:
    """Each field that is another now, as it was and as it is."""
    lines = [
        f"{path}: {value_text(was, path)} -> {value_text(now, path)}"
        for path, was, now in done.changed
    ]
    if not done.was_valid:
        lines.append("car.toml was not valid before, and is now")
    elif not done.changed:
        lines.append("the same as before, physically")
    told = finding_lines(done.findings) if done.findings else []
    return [*lines, *told, f"next: {done.record.line}"]


def work_lines(done: WorkAdded) -> list[str]:
    """The item, and who may do such work."""
    first = f"work: {done.item}" + (f" - {done.note}" if done.note else "")
    said = [f"{finding.severity}: {finding.text}" for finding in done.findings]
    return [first, *said, f"next: {done.record.line}"]


def attached_lines(done: Attached) -> list[str]:
    """Each copy, with what was left out of it."""
    lines = []
    for path, removed in zip(done.paths, done.left_out, strict=True):
        words = f" (left out: {', '.join(removed)})" if removed else ""
        lines.append(f"copied to {path}{words}")
    lines += [f"caption in {done.caption}"] if done.caption else []
    return [*lines, f"next: {done.record.line}"]


def redaction_lines(done: Redaction) -> list[str]:
    """What was deleted, and what stands of it."""
    gone = "deleted" if done.deleted else "not in this computer's place any more"
    said = f"{done.path} keeps its digest; entry {done.entry} ({done.id[:8]}) says who asked"
    return [*wrap(f"{done.file}: {gone}", 2, 0), *wrap(said, 2, 0),
            *wrap("copies that others were given are theirs to delete", 2, 0)]  # fmt: skip


def own_things_lines(done: OwnThings) -> list[str]:
    """What was copied, and what never leaves."""
    lines = [f"copied to {done.folder}:", *(f"  {name}" for name in done.files)]
    return [*lines, *(line for one in done.left_out for line in wrap(f"not copied: {one}", 12, 0))]


_FILES = 12  # new files that are listed


def outlook_lines(found: Outlook) -> list[str]:
    """What is about to be recorded."""
    lines = [f"{found.kind}: {found.subject}", *change_lines(found.changes)]
    if found.first:
        lines.append("  the configuration as it stands in car.toml")
    others = [path for path in found.added if path != "car.toml"]
    lines += [f"  new file   {path}" for path in others[:_FILES]]
    if len(others) > _FILES:
        lines.append(f"  and {count(len(others) - _FILES, 'more new file')}")
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


def register_lines(entry: EntryMade, then: str) -> list[str]:
    """A change of the register, and what comes next."""
    return [f"recorded: {entry_words(entry)}: {entry.subject}", f"next: {then}"]


def entered_lines(done: KeyEntered, file: Path | None) -> list[str]:
    """A key that was entered, and how to sign with it; `file` is the private key as named."""
    first, last = register_lines(done.entry, "buildlog key list")
    own = f'  to sign with it: signing_key = "{file}" in {done.settings}'
    return [
        first,
        f"  {done.name} is {done.fingerprint}",
        "  give this fingerprint to whoever is to check the history, on paper or by phone",
        *([own] if done.settings else []),
        last,
    ]


def key_lines(keys: Sequence[KeyState]) -> list[str]:
    """Every key with its fingerprint; the first line answers."""
    if not keys:
        return [
            "no key is entered: entries of this ledger are not signed",
            'next: buildlog key add "bench 1"',
        ]
    rows = table([[k.name, f"{k.signed} signed", _state(k)] for k in keys], right=(1,))
    lines = [f"{sum(k.gone is None for k in keys)} of {count(len(keys), 'key')} in use"]
    for row, key in zip(rows, keys, strict=True):
        lines += [row, f"    {key.fingerprint}"]
    return [*lines, "next: buildlog verify"]


def _state(key: KeyState) -> str:
    return key.gone or "in use"


def packed_lines(done: Packed) -> list[str]:
    """Files and bytes before and after."""
    before = f"{count(done.files_before, 'file')} of {done.bytes_before / 1000:,.0f} kB"
    after = f"{done.files_after:,} of {done.bytes_after / 1000:,.0f} kB"
    return [f"packed by {done.by}: {before}, now {after}", "next: buildlog verify"]


def received_lines(done: Received) -> list[str]:
    """Where it is, how to know that it is the right one, what was odd."""
    lines = wrap(
        f"received: {count(done.entries, 'entry', 'entries')}, unbroken; "
        f"the ledger is in {done.folder}",
        2,
        0,
    )
    lines += wrap(f"fingerprint {done.fingerprint}: compare it with the one on paper", 2, 0)
    lines += ["  recorded and signed that it was taken over"] if done.taken_over else []
    return [*lines, *finding_lines(done.findings), f"next: cd {done.folder} && buildlog next"]
