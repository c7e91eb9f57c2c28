"""A commit message: a subject, free notes, and the facts about the act of recording.

The facts are git trailers with ASCII keys, one line each, in a block of their own at the
end, so that plain `git log` and `git interpret-trailers` read them too.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterable
from dataclasses import dataclass, fields
from datetime import date
from functools import lru_cache

from buildlog.errors import InvalidInput
from buildlog.records.toml.plain_text import clean

KINDS = ("build", "found", "dyno", "check", "fault", "correction", "earlier", "handover")
DIGEST_KEY = "Record-sha256"

_TRAILER = re.compile(r"([A-Za-z0-9][A-Za-z0-9-]*): *(.*)")
_LONGEST_NOTES = 10_000
# git takes the first for the end of the message and the second for the end of an edit
_GIT_DIVIDERS = re.compile(r"^(?:---(?:\s|$)|. -+ >8 -+)", re.MULTILINE)


@dataclass(frozen=True)
class EntryFacts:
    """What a message says. Texts are as their authors wrote them; ids are whole (40 digits)."""

    subject: str
    notes: str = ""
    kind: str = "build"
    stage: str | None = None
    odometer: str | None = None  # "42310 mi" or "unknown"
    odometer_note: str | None = None  # why the odometer or the date goes backwards
    work_date: date | None = None
    done_by: str | None = None
    approved_by: str | None = None
    corrects: str | None = None
    resolves: str | None = None
    approves: str | None = None  # an earlier entry, which `approved_by` answers for
    changed: str | None = None  # a few words of what changed, for `history`
    measured: str | None = None  # a few words of what was measured, for `history`
    promised: str | None = None  # what the quote of the plan that this entry built promised
    session_configuration: str | None = None  # how a session beside a changed car.toml is meant
    repaired: str | None = None  # what `main` held and was set to by `repair` before this entry
    redacted: str | None = None  # which file outside was deleted, who asked and why
    written_by: str | None = None  # the revision of the format that the program knew


_KEYS: dict[str, str] = {
    "kind": "Entry-kind",
    "stage": "Stage",
    "odometer": "Odometer",
    "odometer_note": "Odometer-note",
    "work_date": "Work-date",
    "done_by": "Done-by",
    "approved_by": "Approved-by",
    "corrects": "Corrects",
    "resolves": "Resolves",
    "approves": "Approves",
    "changed": "Changed",
    "measured": "Measured",
    "promised": "Promised",
    "session_configuration": "Session-configuration",
    "repaired": "Repaired",
    "redacted": "Redacted",
    "written_by": "Written-by",
}
NONCE_KEY = "Ledger-nonce"


@dataclass(frozen=True)
class Parsed:
    """A message read back. `trailers` holds every trailer, the last of equal keys winning."""

    subject: str
    notes: str
    trailers: dict[str, str]

    def fact(self, name: str) -> str | None:
        """The trailer of a field of EntryFacts, as text."""
        return self.trailers.get(_KEYS[name]) or None

    def facts(self) -> dict[str, str | None]:
        """What the message says, by the names of the fields of EntryFacts, as text."""
        return {"subject": self.subject, "notes": self.notes} | {n: self.fact(n) for n in _KEYS}


def build(facts: EntryFacts, *, nonce: str | None = None) -> bytes:
    """The message without its digest; `sealed` adds that. InvalidInput names the field at fault."""
    subject = clean(facts.subject, "the subject", longest=200)
    if not subject:
        raise InvalidInput(
            "the entry has no subject line", hint='say in a few words what was done: -m "…"'
        )
    if facts.kind not in KINDS:
        raise InvalidInput(
            f'"{facts.kind}" is not a kind of entry', hint=f"one of {', '.join(KINDS)}"
        )
    lines = [*_trailer_lines(facts)]
    if nonce is not None:
        lines.append(f"{NONCE_KEY}: {clean(nonce, NONCE_KEY, longest=64)}")
    notes = _clean_notes(facts.notes)
    paragraphs = [subject, notes, "\n".join(lines)] if notes else [subject, "\n".join(lines)]
    return ("\n\n".join(paragraphs) + "\n").encode()


def sealed(message: bytes, digest: str) -> bytes:
    """The message with its digest as the last trailer."""
    return message + f"{DIGEST_KEY}: {digest}\n".encode()


def unsealed(message: bytes) -> bytes:
    """The message without any line that starts with "Record-sha256: "."""
    prefix = f"{DIGEST_KEY}: ".encode()
    return b"".join(line for line in io.BytesIO(message) if not line.startswith(prefix))


@lru_cache(maxsize=4096)
def parse(message: bytes) -> Parsed:
    """Read any commit message; a commit of plain git's may have no trailers at all."""
    text = message.decode("utf-8", errors="replace").strip("\n")
    subject, _, rest = text.partition("\n")
    head, _, tail = rest.rpartition("\n\n") if "\n\n" in rest else ("", "", rest.lstrip("\n"))
    block = [_TRAILER.fullmatch(line.rstrip()) for line in tail.split("\n")]
    if not rest.startswith("\n") or not all(block):
        return Parsed(subject.strip(), rest.strip("\n"), {})
    trailers = {match.group(1): match.group(2).strip() for match in block if match}
    return Parsed(subject.strip(), head.strip("\n"), trailers)


def _trailer_lines(facts: EntryFacts) -> Iterable[str]:
    for field in fields(EntryFacts):
        value = getattr(facts, field.name)
        if field.name not in _KEYS or value is None:
            continue
        text = value.isoformat() if isinstance(value, date) else clean(value, _KEYS[field.name])
        if not text:
            raise InvalidInput("the field is empty", where=_KEYS[field.name], hint="leave it out")
        yield f"{_KEYS[field.name]}: {text}"


def _clean_notes(notes: str) -> str:
    unified = notes.replace("\r\n", "\n").replace("\r", "\n")
    lines = [line.rstrip() for line in unified.split("\n")]
    text = clean(
        "\n".join(lines).strip("\n"), "the notes", allow="\n\t\u200c\u200d", longest=_LONGEST_NOTES
    )
    found = _GIT_DIVIDERS.search(text)
    if found:
        raise InvalidInput(
            "plain git would take this line for the end of the message",
            where=f"the notes, line {text.count(chr(10), 0, found.start()) + 1}",
            hint="begin the line with something other than ---",
        )
    if f"\n{DIGEST_KEY}: " in f"\n{text}":
        raise InvalidInput(
            f"a line of the notes may not begin with {DIGEST_KEY}:",
            where="the notes",
            hint="put a word before it",
        )
    return text
