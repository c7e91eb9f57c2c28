"""What this computer has recorded: a list of ids beside the history, forced to the disk.

A file service that keeps a folder in step on two computers brings the objects of both, lets one
side's branch win, and says nothing of the other side's entries. So each computer keeps a list of
its own, `.git/buildlog/recorded-COMPUTER`, of the entries it has reported as recorded; the lists
of all of them arrive in each folder. An entry that a list holds and `main` does not stands beside
this history. Nothing else does: a plan that was dropped, a lost race and a crash leave commits,
too. The lists never leave with a bundle, a sync or a handover.
"""

from __future__ import annotations

import hashlib
import platform
import re
from collections.abc import Sequence
from pathlib import Path

from buildlog.errors import BuildlogError
from buildlog.findings import Finding
from buildlog.store.disk import atomic
from buildlog.store.git.ordering import ancestors
from buildlog.store.git.repo import LISTS, Repo
from buildlog.store.ledger import entries
from buildlog.store.ledger.entries import Entry

REPAIRED = f"{LISTS}/repaired"  # what `repair` did, until an entry says so
_NAME = "recorded-"
_REPAIR = re.compile("([0-9a-f]{40}|torn|none) [0-9a-f]{40}")
_ID = re.compile(rb"^([0-9a-f]{40})$", re.MULTILINE)


def note(git: Path, entry_id: str) -> None:
    """Write down that this computer has recorded an entry; forced to the disk."""
    atomic.append(git / LISTS / f"{_NAME}{_computer()}", f"{entry_id}\n".encode())


def known(git: Path) -> frozenset[str]:
    """Every id that a list holds, those in conflict copies of a list too."""
    try:
        lists = sorted((git / LISTS).glob(f"{_NAME}*"))
        return frozenset(name.decode() for one in lists for name in _ID.findall(one.read_bytes()))
    except OSError:
        return frozenset()


def repaired(git: Path) -> str | None:
    """What `repair` did since the newest entry: what `main` held, and what it holds."""
    try:
        lines = (git / REPAIRED).read_text("ascii").split("\n")
    except (OSError, UnicodeDecodeError):
        return None
    whole = [line for line in lines if _REPAIR.fullmatch(line)]
    return whole[-1] if whole else None


def findings(repo: Repo, history: Sequence[Entry]) -> list[Finding]:
    """What was recorded and stands beside this history, or is nowhere in this folder."""
    found = []
    for one in strays(repo, history):
        who = f" by {one.done_by}" if one.done_by else ""
        text = f"an entry of {one.work_date}{who} stands beside this history: {one.subject}"
        hint = "buildlog sync --beside joins it"
        found.append(Finding("stray-entry", "caution", f"{text} ({one.short})", (), one.id, hint))
    for name in lost(repo, history):
        text = f"a recorded entry ({name[:8]}) is nowhere in this folder"
        hint = "look for it in the other copies, and sync with the one that has it"
        found.append(Finding("lost-entry", "caution", text, (), name, hint))
    return found


def strays(repo: Repo, history: Sequence[Entry]) -> list[Entry]:
    """The recorded entries that do not lead to `main`, and whose change is not on it either.

    They are numbered along their own line. An entry that cannot be read any more is left out
    here: `lost` names it.
    """
    listed = known(repo.git) - {entry.id for entry in history}
    missing = {name for name in listed if repo.has(name)}
    if not missing:
        return []
    here = {_change(repo, entry) for entry in history}
    found: dict[str, Entry] = {}
    for tip in sorted(missing):
        try:
            line = entries.history(repo, tip)
            new = {one.id: one for one in line if one.id in missing}
            found |= {name: one for name, one in new.items() if _change(repo, one) not in here}
        except BuildlogError:
            continue
    return sorted(found.values(), key=lambda one: (one.work_date, one.number, one.id))


def lost(repo: Repo, history: Sequence[Entry]) -> list[str]:
    """The ids of recorded entries that are not even here as objects."""
    listed = known(repo.git) - {entry.id for entry in history}
    return sorted(name for name in listed if not repo.has(name))


def tips(repo: Repo, found: Sequence[Entry]) -> list[str]:
    """Of entries beside the history, those that no other of them follows."""
    names = {one.id for one in found}
    graph = entries.graph(repo, *names)
    older = ancestors(graph, *(parent for name in names for parent in graph[name]))
    return sorted(names - older)


def _change(repo: Repo, entry: Entry) -> tuple[object, ...]:
    """What an entry says and does, whatever it follows."""
    before = repo.files_of(entry.parents[0]) if entry.parents else {}
    after = repo.files(entry.tree)
    change = (frozenset(before.items() - after.items()), frozenset(after.items() - before.items()))
    return (entry.subject, entry.work_date, entry.kind, entry.odometer, entry.stage, *change)


def _computer() -> str:
    """A name for this computer's list, the same every time and of no other computer."""
    name = platform.node() or "computer"
    own = name.encode()
    for place in ("/etc/machine-id", "/var/lib/dbus/machine-id"):
        try:
            own += Path(place).read_bytes()
            break
        except OSError:
            continue
    word = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:24] or "computer"
    return f"{word}-{hashlib.sha256(own).hexdigest()[:8]}"
