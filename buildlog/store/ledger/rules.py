"""What may be recorded, and what may never change again.

One function judges an entry that is about to be made and, for `verify`, one that was
made by whatever program. It returns what is wrong as findings; none means accepted.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from buildlog.errors import InvalidInput
from buildlog.findings import Finding
from buildlog.store.git import ledger_files
from buildlog.store.git.message import KINDS, EntryFacts
from buildlog.store.git.repo import REGULAR, Files
from buildlog.store.ledger.entries import Entry, metres

RESERVED_STAGES = frozenset({"working", "latest", "first", "last-dyno", "unknown"})
_STAGE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,59}")


@dataclass(frozen=True)
class FileChange:
    """The difference between the files before an entry and with it."""

    added: tuple[str, ...]
    changed: tuple[str, ...]
    deleted: tuple[str, ...]

    def __bool__(self) -> bool:
        return bool(self.added or self.changed or self.deleted)

    @property
    def all(self) -> tuple[str, ...]:
        return tuple(sorted((*self.added, *self.changed, *self.deleted)))


class Past:
    """The entries recorded so far, by id and by stage."""

    def __init__(self, entries: Iterable[Entry] = ()) -> None:
        self.by_id: dict[str, Entry] = {}
        self.stages: dict[str, Entry] = {}
        for entry in entries:
            self.add(entry)

    def add(self, entry: Entry) -> None:
        self.by_id[entry.id] = entry
        if entry.stage:
            self.stages.setdefault(entry.stage, entry)

    def line(self, parents: Sequence[str]) -> Iterator[Entry]:
        """The entries back to the last merge, newest first; those about the past are left out."""
        current = tuple(parents)
        while len(current) == 1 and current[0] in self.by_id:
            entry = self.by_id[current[0]]
            if entry.kind != "earlier":
                yield entry
            current = entry.parents


def change_between(old: Files, new: Files) -> FileChange:
    """Which paths were added, changed and deleted."""
    return FileChange(
        added=_texts(new.keys() - old.keys()),
        changed=_texts({path for path in new.keys() & old.keys() if new[path] != old[path]}),
        deleted=_texts(old.keys() - new.keys()),
    )


def judge(
    facts: EntryFacts, change: FileChange, new: Files, parents: Sequence[str], past: Past
) -> list[Finding]:
    """Everything wrong with an entry that follows `parents` and leaves the files `new`."""
    found = [*_files(change, new, facts.kind), *_names(facts, past)]
    if facts.kind != "earlier" and not facts.odometer_note:
        found += _order(facts, past, parents)
    return found


def _files(change: FileChange, new: Files, kind: str) -> Iterator[Finding]:
    for path in change.added + change.changed:
        mode = new[path.encode("utf-8", "surrogateescape")][0]
        if mode != REGULAR and ledger_files.kind_of(path):
            yield _error("file-not-regular", f"{path} is not an ordinary file", path)
        reason = ledger_files.refusal(path)
        if reason:
            yield _error("file-name", f"the name {path!r} {reason}", path, "rename the file")
    for path in change.added:
        if ledger_files.kind_of(path) == "plan":
            yield _error("plan-on-main", f"{path} belongs on a plan's branch only", path)
    for path in change.changed:
        yield from _changed(path, kind)
    for path in change.deleted:
        yield from _deleted(path)
    for one, other in ledger_files.twins(list(_texts(new))):
        yield _error(
            "file-twins", f"{one} and {other} are one file on many computers", other, "rename one"
        )


def _changed(path: str, kind: str) -> Iterator[Finding]:
    role = ledger_files.kind_of(path)
    if role in ledger_files.ADD_ONLY:
        yield _error(
            "file-changed",
            f"{path} is recorded evidence and has been changed",
            path,
            f"put it back with `git restore {path}` and add the new one under another name",
        )
    if role == "session" and kind != "correction":
        yield _error(
            "session-changed",
            f"{path} is recorded and has been changed",
            path,
            "record it with --kind correction --corrects ENTRY",
        )


def _deleted(path: str) -> Iterator[Finding]:
    role = ledger_files.kind_of(path)
    if role in ledger_files.ADD_ONLY or role in ("session", "configuration"):
        yield _error(
            "file-deleted",
            f"{path} is recorded and is missing",
            path,
            f"put it back with `git restore {path}`",
        )


def _names(facts: EntryFacts, past: Past) -> Iterator[Finding]:
    if facts.kind not in KINDS:
        yield _error(
            "kind", f'"{facts.kind}" is not a kind of entry', hint=f"one of {', '.join(KINDS)}"
        )
    for word, target in (("Corrects", facts.corrects), ("Resolves", facts.resolves),
                         ("Approves", facts.approves)):  # fmt: skip
        if target is not None and target not in past.by_id:
            yield _error("target", f"{word}: there is no entry {target[:12]} before this one")
    if facts.kind == "correction" and facts.corrects is None:
        yield _error(
            "corrects", "a correction must say which entry it corrects", hint="add --corrects ENTRY"
        )
    if facts.approves is not None and facts.approved_by is None:
        yield _error(
            "approves", "an approval must say who answers for it", hint="add --approved-by WHO"
        )
    if facts.stage is not None:
        yield from _stage(facts.stage, past)
    if facts.odometer not in (None, "unknown"):
        yield from _distance(facts.odometer)


def _distance(odometer: str | None) -> Iterator[Finding]:
    value = metres(odometer)
    if value is None:
        bare = odometer is not None and odometer.replace(",", "").strip().isdecimal()
        shown = (odometer or "").replace(",", "").strip() if bare else "42310"
        hint = f'write "{shown} mi" or "{shown} km"' if bare else 'write "42310 mi" or "68090 km"'
        yield _error("odometer", f'"{odometer}" is not a distance', hint=hint)
    elif value < 0:
        yield _error("odometer", f'the odometer "{odometer}" is negative')


def _stage(stage: str, past: Past) -> Iterator[Finding]:
    used = past.stages.get(stage)
    if used:
        text = f'the stage "{stage}" is already entry {used.number} ({used.short})'
        yield _error("stage-used", text, hint="choose another name")
    reason = stage_refusal(stage)
    if reason:
        yield _error(
            "stage-name", f'the stage name "{stage}" {reason}', hint='write it like "stage-2"'
        )


def stage_refusal(stage: str) -> str | None:
    """Why a name cannot name a stage (or a plan), as the end of a sentence."""
    if not _STAGE.fullmatch(stage) or ".." in stage or stage.endswith((".", ".lock")):
        return "may hold letters, digits, hyphens, underscores and single dots only"
    if stage in RESERVED_STAGES:
        return "already means something else"
    if stage.isdigit():
        return "would be taken for an entry's number"
    if re.fullmatch(r"[0-9a-f]{7,40}", stage):
        return "would be taken for an entry's id"
    return None


def _order(facts: EntryFacts, past: Past, parents: Sequence[str]) -> Iterator[Finding]:
    hint = "correct it, or say why with --odometer-note"
    last = next(past.line(parents), None)
    if last and facts.work_date and facts.work_date < last.work_date:
        text = (
            f"the date {facts.work_date} is before that of entry {last.number} ({last.work_date})"
        )
        yield _error("date-order", text, hint=hint)
    now = metres(facts.odometer)
    reading = next((entry for entry in past.line(parents) if entry.odometer_m is not None), None)
    if now is not None and reading is not None and _below(facts.odometer, reading.odometer):
        text = (
            f"the odometer {facts.odometer} is below that of entry "
            f"{reading.number} ({reading.odometer})"
        )
        yield _error("odometer-order", text, hint=hint)


def _below(odometer: str | None, before: str | None) -> bool:
    """Whether a reading is below an earlier one, beyond rounding if the units differ."""
    from buildlog.units import parse

    now, then = parse(odometer or "", ("length",)), parse(before or "", ("length",))
    if now.unit.factor == then.unit.factor:
        return now.number < then.number
    return now.si < then.si - now.half_step - then.half_step


def _error(code: str, text: str, path: str = "", hint: str | None = None) -> Finding:
    return Finding(code, "error", text, where=path or None, hint=hint)


def refuse(findings: Sequence[Finding]) -> None:
    """Raise InvalidInput with the first finding, naming the others too."""
    if not findings:
        return
    more = "; ".join(finding.text for finding in findings[1:6])
    rest = f"; and {len(findings) - 6} more" if len(findings) > 6 else ""
    raise InvalidInput(
        findings[0].text,
        why=f"also: {more}{rest}" if more else None,
        hint=findings[0].hint,
    )


def _texts(names: Iterable[bytes]) -> tuple[str, ...]:
    return tuple(name.decode("utf-8", "surrogateescape") for name in sorted(names))
