"""Entries of a newer program, offered as proof of the fields that only it knows."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from buildlog.records.fields import newer
from buildlog.store.git import ledger_files
from buildlog.store.git.repo import Repo


def offer(repo: Repo, entry_id: str, tree: str, written_by: str | None) -> None:
    """Offer the files of an entry, if a newer program wrote it; nothing is read yet."""
    if newer.is_newer(written_by):
        newer.offer(entry_id, partial(_files, repo, tree))


def _files(repo: Repo, tree: str) -> Iterator[tuple[str, bytes]]:
    """The TOML files of an entry, each with the name of its model; an error once it is closed."""
    if repo.is_closed:
        raise ValueError("who opened it offers its entries again")
    from buildlog.records.schema import OF_KIND

    for name, (_, object_id) in repo.files(tree).items():
        model = OF_KIND.get(ledger_files.kind_of(name.decode("utf-8", "replace")) or "")
        if model is not None:
            yield model.__name__, repo.blob(object_id)
