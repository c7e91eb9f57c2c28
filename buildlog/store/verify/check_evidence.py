"""Files that a record names by their SHA-256: calibrations inside, large raw files outside."""

from __future__ import annotations

import stat
from collections.abc import Container, Iterator, Sequence
from pathlib import Path
from typing import Any

from buildlog.errors import BuildlogError
from buildlog.findings import Finding, how_many
from buildlog.records.toml.toml_read import parse_toml
from buildlog.store.disk import outside_files
from buildlog.store.git import ledger_files
from buildlog.store.git.repo import Repo
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


def outside(repo: Repo, folder: Path, newest: Entry, redacted: Container[str]) -> Iterator[Finding]:
    """Files kept outside: one that lies in the folder or in its place outside is compared.

    `redacted`: what entries say was deleted on request; nobody looks for that.
    """
    away = []
    recorded = repo.files(newest.tree)  # the sweeps of a large file are; that one lies elsewhere
    for path, sha256 in _kept_outside(repo, newest.tree):
        if path in redacted:
            continue
        here = folder / path
        own = not path.endswith(ledger_files.OUTSIDE) and path.encode() not in recorded
        beside = own and ".." not in path and here.is_file()
        found = here if beside else outside_files.find(sha256)
        if found is None:
            away.append(path)
        elif not outside_files.is_whole(found, sha256):
            text = f"{path} is not the file whose SHA-256 the ledger gives"
            yield Finding("raw-differs", "error", text, where=path, hint="find the right one")
    if away:
        few = ", ".join(away[:3]) + (", ..." if len(away) > 3 else "")
        text = f"{how_many(len(away), 'file')} kept outside the ledger, not found here: {few}"
        yield Finding("raw-outside", "note", text)


def _kept_outside(repo: Repo, tree: str) -> Iterator[tuple[str, str]]:
    """Each file that is kept outside: the path that tells of it, and its SHA-256."""
    for path in sorted(repo.files(tree)):
        name = path.decode("utf-8", "replace")
        kind = ledger_files.kind_of(name)
        if kind == "session":
            session = _table(repo, tree, path)
            told = [
                (f"{name.rpartition('/')[0]}/{one.get('file')}", said.lower())
                for one in (*_listed(session, "pull"), *_listed(session, "log"))
                if isinstance(said := one.get("outside_sha256"), str)
            ]
            yield from dict.fromkeys(told)  # one file may hold several pulls, or lie over them
        elif kind == "outside" and isinstance(said := _table(repo, tree, path).get("sha256"), str):
            yield name, said.lower()


def _listed(table: dict[str, Any], key: str) -> list[dict[str, Any]]:
    held = table.get(key)
    return [one for one in held if isinstance(one, dict)] if isinstance(held, list) else []


def _table(repo: Repo, tree: str, path: bytes) -> dict[str, Any]:
    try:
        held = repo.find(tree, path)
        return parse_toml(repo.blob(held[1]), path.decode("utf-8", "replace")) if held else {}
    except BuildlogError:
        return {}
