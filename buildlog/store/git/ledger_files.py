"""The closed set of files a ledger records, and what may happen to each later.

Everything else in the folder is left alone. A name inside one of the recorded folders
that no computer of a later owner could hold, or that would read differently from what
it says, is refused.
"""

from __future__ import annotations

import re
import unicodedata
from typing import Literal

from buildlog.records.toml.plain_text import hidden

Kind = Literal[
    "configuration", "session", "raw", "check", "torque", "torque-sheet", "fault", "list",
    "keys", "priors", "handover", "plan", "attachment", "reading", "waiting", "due", "attributes",
    "outside", "caption",
]  # fmt: skip

ADD_ONLY: frozenset[Kind] = frozenset(
    {"raw", "check", "torque", "torque-sheet", "fault", "handover", "attachment", "reading",
     "waiting", "due", "outside", "caption"}
)  # fmt: skip
FOLDERS: frozenset[str] = frozenset(
    {"dyno", "checks", "torque", "faults", "lists", "keys", "handover", "attachments",
     "readings", "waiting", "due"}
)  # fmt: skip
ATTRIBUTES = ".gitattributes"
# What stands in it: a plain git on a computer with other line ends must not change a byte.
KEEP_BYTES = b"# files are evidence: git must not change line ends\n* -text\n"
OUTSIDE = ".outside.toml"  # ends the name of what tells of a file that is kept outside
CAPTION = ".caption.toml"  # behind a file's whole name: what that one shows
LARGEST_FILE = 25 * 1024 * 1024  # bytes; a larger raw file stays outside, by digest and size
_DEEPEST = 8

_SINGLE: dict[str, Kind] = {
    "car.toml": "configuration",
    "priors.toml": "priors",
    "plan.toml": "plan",
    ATTRIBUTES: "attributes",
    "keys/allowed_signers": "keys",
    "keys/register.toml": "keys",
}
_TOML_FOLDERS: dict[str, Kind] = {
    "checks": "check",
    "torque": "torque",
    "faults": "fault",
    "lists": "list",
    "readings": "reading",
    "waiting": "waiting",
    "due": "due",
}
_BESIDE: dict[str, Kind] = {OUTSIDE: "outside", CAPTION: "caption"}  # what tells of an attachment
_DEVICE = re.compile(r"(con|prn|aux|nul|com[0-9¹²³]|lpt[0-9¹²³])(\..*)?", re.IGNORECASE)
_FORBIDDEN = set('<>:"\\|?*')


def kind_of(path: str) -> Kind | None:
    """What a path is in a ledger ("dyno/2026-03-14/pull-1.csv" is "raw"); None: left alone."""
    if path in _SINGLE:
        return _SINGLE[path]
    parts = path.split("/")
    if any(part.startswith(".") or part.endswith("~") for part in parts):
        return None
    folder, name = parts[0], parts[-1]
    if folder == "dyno" and len(parts) == 3:
        return "session" if name == "session.toml" else "raw"
    if folder == "attachments" and 2 <= len(parts) <= _DEEPEST:
        return next((kind for end, kind in _BESIDE.items() if name.endswith(end)), "attachment")
    if len(parts) == 2 and folder in _TOML_FOLDERS and name.endswith(".toml"):
        sheet = folder == "torque" and name.endswith(".sheet.toml")
        return "torque-sheet" if sheet else _TOML_FOLDERS[folder]
    return "handover" if re.fullmatch(r"handover/[0-9]{1,6}\.toml", path) else None


def session_of(path: str) -> str | None:
    """The session a path belongs to: "2026-03-14-baseline" for "dyno/2026-03-14-baseline/…"."""
    parts = path.split("/")
    return parts[1] if len(parts) == 3 and parts[0] == "dyno" else None


def refusal(path: str) -> str | None:
    """Why a name cannot be recorded, as the end of a sentence; None if it can."""
    found = hidden(path)
    if found:
        return f"contains the invisible character {found}"
    if unicodedata.normalize("NFC", path) != path:
        return "is written with decomposed accents, which another computer spells differently"
    if len(path.encode()) > 240:
        return "is too long to be held by every computer (240 bytes)"
    return next(filter(None, map(_part_refusal, path.split("/"))), None)


def twins(paths: list[str]) -> list[tuple[str, str]]:
    """Pairs of names that differ only in capitals: one file on many computers."""
    seen: dict[str, str] = {}
    pairs = []
    for path in sorted(paths):
        first = seen.setdefault(path.casefold(), path)
        if first != path:
            pairs.append((first, path))
    return pairs


def _part_refusal(part: str) -> str | None:
    if part in ("", ".", ".."):
        return "does not name a file"
    if part.casefold() == ".git":
        return "is reserved by git"
    if part.startswith("-"):
        return "begins with a hyphen, which programs take for an option"
    if part.endswith((".", " ")) or part.startswith(" "):
        return "begins or ends with a blank or ends with a dot"
    if part.endswith(".lock"):
        return "ends in .lock, which git uses for its own locks"
    if _DEVICE.fullmatch(part):
        return "is the name of a device on Windows"
    forbidden = sorted(_FORBIDDEN & set(part))
    return f"contains {forbidden[0]}, which Windows forbids" if forbidden else None
