"""A session on its way into the working files: its name, its text, its validation."""

from __future__ import annotations

import datetime as dt
import re
import shlex
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Any

from buildlog.analysis.pulls.reduction import sweep_lines
from buildlog.analysis.pulls.session_draft import RawFile, more_pulls, new_session, with_pulls
from buildlog.desk.acts.dyno.dyno_intake import Understood
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import InvalidInput
from buildlog.findings import Finding, first_error
from buildlog.rawfiles.reduce import SWEEPS, reduced
from buildlog.records.reading import load
from buildlog.records.session import Session
from buildlog.records.toml import toml_edit, toml_write
from buildlog.store.disk import outside_files
from buildlog.store.git.ledger_files import LARGEST_FILE
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.ledger.names import WORKING
from buildlog.store.ledger.session_files import SESSION, refuse_session_name, safe_name
from buildlog.store.ledger.working import blob_id

_DATED = re.compile(r"(\d{4}-\d{2}-\d{2})(?:-(.*))?")


@dataclass(frozen=True)
class Place:
    """A session's name and what is there already; `recorded`: the entry that first holds it."""

    name: str
    text: bytes | None
    raw: Mapping[str, bytes]
    recorded: int | None

    @property
    def exists(self) -> bool:
        """Whether pulls are added to a session there is."""
        return self.text is not None


def split_name(given: str) -> tuple[str | None, str]:
    """Day and rest of a session's name: "2026-03-14-baseline", or "baseline" alone."""
    plain = given.strip().strip("/").removeprefix("dyno/")
    found = _DATED.fullmatch(plain)
    rest = (found[2] or "") if found else plain
    rest = re.sub(r"[\s/\\]+", "-", rest).strip("-")
    return (found[1] if found else None), rest


def existing(ledger: Ledger, day: str | None, rest: str) -> str | None:
    """The session that a name means, if there is one: exactly, or the only one on the disk
    that is not recorded and has this name behind its day."""
    found = ledger.working().files
    known = {path.split("/")[1] for path in found if path.endswith(f"/{SESSION}")}
    if day:
        name = f"{day}-{rest}" if rest else day
        return name if name in known else None
    recorded = ledger.files(ledger.entries()[-1]) if ledger.entries() else {}
    hits = [
        name
        for name in sorted(known)
        if name[11:] == rest and f"dyno/{name}/{SESSION}" not in recorded
    ]
    return hits[0] if len(hits) == 1 else None


def place_of(ledger: Ledger, name: str) -> Place:
    """What the working files hold of a session."""
    refuse_session_name(name)
    folder = f"dyno/{name}/"
    files = {
        path.removeprefix(folder): ledger.read(WORKING, path)
        for path in ledger.working().files
        if path.startswith(folder)
    }
    text = files.pop(SESSION, None)
    entry = next(
        (e.number for e in ledger.entries() if f"{folder}{SESSION}" in ledger.files(e)), None
    )
    return Place(name, text, files, entry)


def raw_files(
    known: Sequence[Understood], place: Place, runs: bool
) -> tuple[list[RawFile], dict[str, bytes]]:
    """The files as they enter, with safe names of their own; large ones reduced."""
    entering: list[RawFile] = []
    contents: dict[str, bytes] = {}
    for one in known:
        _refuse_present(one, place)
        name = one.given.path.name
        if one.given.large:
            name = f"{Path(name).stem[:40]}-sweeps.csv"
        # A file of the same bytes that no pull names was left by a command that was cut short.
        taken = [n for n in (*place.raw, *contents) if place.raw.get(n) != one.given.source]
        safe = safe_name(name, place.name, taken)
        file, contents[safe] = _reduced(one, safe, runs) if one.given.large else _whole(one, safe)
        entering.append(replace(file, runs=runs))
    return entering, contents


def _refuse_present(one: Understood, place: Place) -> None:
    """InvalidInput if the session holds this recording already."""
    session = read_session(place.name, place.text) if place.text else None
    named = {pull.file for pull in session.pull} if session else set()
    outside = {pull.outside_sha256 for pull in session.pull} if session else set()
    held = next((n for n in named if place.raw.get(n) == one.given.source), None)
    if held or one.given.digest in outside:
        raise InvalidInput(
            f"this recording is in the session already{f' as {held}' if held else ''}",
            where=str(one.given.path),
            why="one recording counted as two pulls would make the scatter look smaller",
            hint="name new recordings only",
        )


def _whole(one: Understood, name: str) -> tuple[RawFile, bytes]:
    assert isinstance(one.given.source, bytes)
    if one.cut_line is None:
        return RawFile(name, one.proposal), one.given.source
    note = f"the file's last line, {one.cut_line}, is cut off; the rows above it are read"
    return RawFile(name, one.proposal, (1, one.proposal.rows), note=note), one.given.source


def _reduced(one: Understood, name: str, runs: bool) -> tuple[RawFile, bytes]:
    outside_files.put(one.given.path)
    lines = sweep_lines(one.given.source, one.proposal, runs)
    return cut_to(one, name, lines, SWEEPS)


def cut_to(
    one: Understood, name: str, lines: Sequence[tuple[int, int]], what: str
) -> tuple[RawFile, bytes]:
    """A file that is too large to enter, as it enters: these of its lines at full rate."""
    proposal = one.proposal
    assert proposal.layout is not None
    given = one.given
    data = reduced(given.source, proposal.layout, lines, given.digest, given.size, what)
    if len(data) > LARGEST_FILE:
        raise InvalidInput(
            f"even {what} are {len(data) / 2**20:.0f} MB; "
            f"{LARGEST_FILE / 2**20:.0f} MB is the largest that enters",
            where=str(given.path),
            hint="export fewer channels; the whole file is kept by buildlog attach --outside "
            f"{shlex.quote(str(given.path))}",
        )
    ends = [0]
    for first, last in lines:
        ends.append(ends[-1] + last - first + 1)
    blocks = tuple((a + 1, b) for a, b in pairwise(ends))
    note = f"{what} of {given.path.name}, which is too large to enter"
    outside = (given.digest, given.size)
    return RawFile(name, proposal, outside=outside, blocks=blocks, note=note, part=what), data


def session_text(
    place: Place,
    fields: Mapping[str, str],
    stated: Sequence[Mapping[str, str]],
    files: Sequence[RawFile],
    own: Mapping[str, dict[str, Any]],
) -> bytes:
    """The session.toml of a new session; of one that exists, with more pulls: its other lines
    stay."""
    if place.text is None:
        date = dt.date.fromisoformat(fields["date"])
        return toml_write.write(with_pulls(new_session(date, fields, stated), files, own))
    items, lacking = more_pulls(read_session(place.name, place.text), files, own)
    if lacking:
        raise InvalidInput(
            f"the session's columns hold {', '.join(lacking)}, which these files do not have",
            where=f"dyno/{place.name}/{SESSION}",
            hint="add them as a session of their own, or map the column with --map",
        )
    data = toml_edit.append_items(place.text, "pull", items) if items else place.text
    return toml_edit.append_items(data, "stated", stated) if stated else data


def read_session(name: str, text: bytes) -> Session:
    """The session that is about to be written; InvalidInput says what is wrong with it."""
    session, findings = load(Session, text, f"dyno/{name}/{SESSION}")
    if wrong := first_error(findings):
        raise InvalidInput(
            wrong.text, where=wrong.where, why="nothing was written", hint=wrong.hint
        )
    assert session is not None
    return session


def same_elsewhere(ledger: Ledger, place: Place, new: Mapping[str, bytes]) -> list[Finding]:
    """A caution for each new file whose bytes another session holds."""
    ids = {blob: path for path, blob in ledger.working().files.items()}
    found = []
    for name, data in new.items():
        path = ids.get(blob_id(data))
        if path and path.startswith("dyno/") and not path.startswith(f"dyno/{place.name}/"):
            text = f"{name} holds the same bytes as {path}: one recording in two sessions"
            found.append(Finding("recording-twice", "caution", text))
    return found


def car_changed(book: Snapshot) -> bool:
    """Whether car.toml on the disk differs physically from the newest entry's."""
    from buildlog.records.paths import differences

    if not book.history:
        return False
    return bool(differences(book.history[-1].configuration, book.working.configuration))
