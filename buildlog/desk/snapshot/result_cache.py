"""Figures that were worked out before, found again by all they hang on and by the program."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterable
from functools import cache
from pathlib import Path
from typing import Any

from buildlog import __version__
from buildlog.desk.snapshot.record_cache import shared
from buildlog.store.disk.index_db import folder

_OF_PROGRAM = (".py", ".toml", ".tsv")


@cache
def program() -> str:
    """Which program works things out: with any of its files changed, it does so anew."""
    import buildlog

    said = [__version__, *sorted(_files(str(Path(buildlog.__file__).parent)))]
    return hashlib.sha256("\n".join(said).encode()).hexdigest()[:16]


def _files(place: str) -> Iterable[str]:
    with os.scandir(place) as found:
        for one in found:
            if one.is_dir():
                yield from _files(one.path) if one.name != "__pycache__" else ()
            elif one.name.endswith(_OF_PROGRAM):
                facts = one.stat()
                yield f"{one.path} {facts.st_size} {facts.st_mtime_ns}"


def recalled(kind: str, hangs_on: Iterable[object], make: Callable[[], Any]) -> Any:
    """A plain figure (what JSON holds; None is not kept), made once for what it hangs on."""
    key = hashlib.sha256("\n".join(map(str, hangs_on)).encode()).hexdigest()
    kind, kept = f"{kind}/{program()}", shared(folder())
    found = kept.get(kind, [key]).get(key)
    if found is None:
        found = make()
        if found is not None:
            kept.put(kind, {key: found})
    return found
