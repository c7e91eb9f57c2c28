"""Files that a record names by their SHA-256: calibrations inside, large raw files outside."""

from __future__ import annotations

import hashlib
import stat
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from buildlog.errors import BuildlogError
from buildlog.findings import Finding
from buildlog.records.toml.toml_read import parse_toml
from buildlog.store.git.repo import Repo
from buildlog.store.ledger import working
from buildlog.store.ledger.entries import Entry


def calibrations(repo: Repo, known: Sequence[Entry]) -> Iterator[Finding]:
    """A calibration's file beside the SHA-256 that car.toml gives it, at every entry."""
    seen: set[tuple[str, str]] = set()
    for entry in known:
        table = _table(repo, entry.tree, b"car.toml").get("calibration")
        if not isinstance(table, dict):
            continue
        name, said = table.get("file"), table.get("file_sha256")
        if not isinstance(name, str) or not isinstance(said, str) or (name, said) in seen:
            continue
        seen.add((name, said))
        path = name.encode("utf-8", "surrogateescape")
        places = (repo.find(entry.tree, place) for place in (path, b"attachments/" + path))
        held = next((one for one in places if one and not stat.S_ISDIR(one[0])), None)
        if held is None:
            text = f"entry {entry.number}: the calibration file {name} is not recorded"
            yield Finding("calibration-missing", "note", text, where=entry.id)
        elif repo.content(held[1]).sha256 != said.lower():
            text = f"entry {entry.number}: {name} is not the file whose SHA-256 car.toml gives"
            yield Finding("calibration-differs", "caution", text, where=entry.id)


def outside(repo: Repo, folder: Path, newest: Entry) -> Iterator[Finding]:
    """Raw files kept outside: one that lies in the folder is compared."""
    away = 0
    for path in sorted(repo.files(newest.tree)):
        if not (path.startswith(b"dyno/") and path.endswith(b"/session.toml")):
            continue
        for pull in _table(repo, newest.tree, path).get("pull", []):
            said = pull.get("outside_sha256") if isinstance(pull, dict) else None
            if not isinstance(said, str):
                continue
            place = f"{path.decode('utf-8', 'replace').rpartition('/')[0]}/{pull.get('file')}"
            found = _digest(folder, place)
            away += found is None
            if found not in (None, said.lower()):
                text = f"{place} is not the raw file whose SHA-256 its session gives"
                yield Finding("raw-differs", "error", text, where=place, hint="find the right one")
    if away:
        text = f"{away} raw files are kept outside the ledger and were not looked at"
        yield Finding("raw-outside", "note", text)


def _table(repo: Repo, tree: str, path: bytes) -> dict[str, Any]:
    try:
        held = repo.find(tree, path)
        return parse_toml(repo.blob(held[1]), path.decode("utf-8", "replace")) if held else {}
    except BuildlogError:
        return {}


def _digest(folder: Path, place: str) -> str | None:
    parts = place.split("/")
    if ".." in parts or not (folder / place).is_file():
        return None
    try:
        return hashlib.sha256(working.read(folder, place)).hexdigest()
    except BuildlogError:
        return None
